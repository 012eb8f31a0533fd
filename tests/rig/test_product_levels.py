"""Levels of a mixer's products, and the filters that hold them."""

import numpy as np
import pytest

from core.circuits.ladder import solve
from core.model.bands import Band
from core.model.stages.mixers import Mixer
from core.rig.analysis import Analysis
from core.rig.plan.frequency_plan import band_plan
from core.rig.rules import inspect
from core.rig.spurs.product_levels import Worked, ordinarily_worked, response_db, sent_dbc
from core.rig.spurs.responses import response_lines, responses_heard
from core.rig.start.new_rig import new_rig
from core.stages.mixers.figures import figures
from tests.spur_plans import RING, WORKED, forty_and_fifteen, of

TWO_DIODE = figures(Mixer(id="m", name="m", type="two_diode"))


# -- levels of a mixer's products -----------------------------------------------------------------------


def test_the_vfos_leak_counts_against_the_signal_at_the_mixers_output(muddle):
    # From an independent cascade: VFO 0 dBm less 40 dB of isolation, wanted signal −9.8 dBm there by gain
    # alone; worked 5 dB below compression the mixer loses 0.18 dB of it, and the ladder as its capacitors are
    # chosen now another 0.29 dB.
    rig = Analysis(muddle)
    worked = rig.worked("40m", rig.mixer_figures("transmit"))
    assert worked.wanted_dbm == pytest.approx(-9.8 - 0.47, abs=0.1)
    assert sent_dbc(RING, worked, 1, 0) == pytest.approx(-30.2 + 0.47, abs=0.1)
    assert of(rig, "40m", "transmit", "2 VFO").level_dbc == pytest.approx(-36.2 + 0.47, abs=0.1)
    assert of(rig, "20m", "transmit", "4 VFO").level_dbc == pytest.approx(-42.3 + 0.47, abs=0.2)


def test_a_leak_that_breaks_the_limit_is_a_fault():
    # From an independent cascade: drive +7 − 40 dB against −8.4 and −8.3 dBm. It had another low-pass, so
    # that gain before it, and the filters' share, differ by a fraction of a decibel.
    rig = forty_and_fifteen()
    for band, wanted in (("40m", -8.4), ("15m", -8.3)):
        worked = rig.worked(band, RING)
        assert worked.wanted_dbm == pytest.approx(wanted, abs=0.8)
        assert sent_dbc(RING, worked, 1, 0) == pytest.approx(7 - 40 - worked.wanted_dbm)
    assert of(rig, "40m", "transmit", "VFO").level_dbc == pytest.approx(-29.0, abs=1)
    assert of(rig, "15m", "transmit", "3 VFO").level_dbc == pytest.approx(-34.4, abs=1)
    for band in ("40m", "15m"):
        assert [f for f in inspect(rig) if f.rule == "transmit_product" and f.band == band]


def test_a_measured_isolation_is_the_one_that_counts(tern):
    before = of(Analysis(tern), "12m", "transmit", "5 VFO").level_dbc
    tight = Analysis(tern.edited(("stages", "mixer", "oscillator_leak_db"), 52.0))
    assert of(tight, "12m", "transmit", "5 VFO").level_dbc == pytest.approx(before - 12)


@pytest.mark.parametrize(
    ("mixer", "m", "n", "db"),
    [
        # 20 lg m, 1.5 dB for each multiple beyond the first, 25 dB where a port's balance helps.
        (RING, 1, 1, 0.0),
        (RING, 5, 1, 19.98),
        (RING, 2, 1, 32.52),
        (RING, 1, 2, 47.0),
        (TWO_DIODE, 2, 1, 32.52),
        (TWO_DIODE, 1, 2, 22.0),
        (TWO_DIODE, 3, 3, 56.54),
    ],
)
def test_the_table_of_products(mixer, m, n, db):
    assert mixer.suppression_db(m, n) == pytest.approx(db, abs=0.01)
    assert sent_dbc(mixer, WORKED, m, n) == pytest.approx(-db, abs=0.01)


def test_products_of_the_signals_multiples_follow_the_back_off():
    for backoff, shift in ((10.0, 0.0), (4.0, 6.0), (16.0, -6.0), (0.0, 10.0), (-7.0, 10.0)):
        worked = Worked(vfo_dbm=7.0, wanted_dbm=-9.0, backoff_db=backoff)
        n = np.arange(1, 6)
        moved = sent_dbc(RING, worked, 2, n) - sent_dbc(RING, WORKED, 2, n)
        assert moved == pytest.approx((n - 1) * shift)


def test_the_rigs_own_back_off_is_used(tern, muddle):
    # The modulator gives −16 dBm, two IF stages 12 and 6 dB, the ladder takes some 5: −3 dBm at a mixer that
    # compresses at +1 dBm.
    rig = Analysis(tern)
    assert rig.worked("20m", RING).backoff_db == pytest.approx(4.1, abs=0.4)
    at = [stage.id for stage in tern.path("transmit")].index("mixer")
    assert rig.worked("20m", RING).backoff_db == pytest.approx(1 - rig.transmit("20m").level_dbm[at])
    # An order-8 product with three times the IF is some 10 dB stronger than at 10 dB of back-off.
    driven = muddle.edited(("vfo", "output_dbm"), 7.0)
    level = of(Analysis(driven), "20m", "transmit", "3 IF − 5 VFO").level_dbc
    assert level == pytest.approx(-54, abs=1)
    # Starved by 7 dB it is at its compression: 4.9 dB more of back-off lost, two orders above the first.
    starved = of(Analysis(muddle), "20m", "transmit", "3 IF − 5 VFO").level_dbc
    backoff = Analysis(muddle).worked("20m", RING).backoff_db
    assert 4 < backoff < 6
    assert starved - level == pytest.approx(2 * backoff, abs=0.1)


def test_an_ordinary_mixer_is_worked_as_the_sample_is(sample):
    analysis = Analysis(sample)
    mixer = analysis.mixer_figures("transmit")
    usual, own = ordinarily_worked(mixer), analysis.worked("20m", mixer)
    assert usual.vfo_dbm == pytest.approx(own.vfo_dbm, abs=1)
    assert usual.wanted_dbm == pytest.approx(own.wanted_dbm, abs=2.5)
    assert usual.backoff_db == pytest.approx(own.backoff_db, abs=2.5)


def test_filters_are_asked_only_of_inputs_that_there_are():
    asked = []

    def loss(f_hz):
        asked.append(f_hz)
        return np.zeros_like(f_hz)

    plan = band_plan(Band(name="20m", low_hz=14.1e6, high_hz=14.3e6, scheme="if_minus_vfo"), 9e6)
    lines = response_lines()
    heard = responses_heard(
        lines, plan.scheme, *(np.array([each]) for each in (9e6, 9e6)), np.array([14.1e6, 14.3e6]), RING, loss
    )
    real = np.isfinite(heard.level_dbc)
    assert 0 < real.sum() < 0.8 * len(lines.a)
    # Each on its way along the dial, the dial there, and both where they meet between its ends.
    (f_hz,) = asked
    meet = (real & (heard.meets_hz > 14.1e6) & (heard.meets_hz < 14.3e6)).sum()
    assert 0 < meet < 0.5 * real.sum()
    assert f_hz.size == 17 * (real.sum() + 1) + 2 * meet
    np.testing.assert_array_equal(
        heard.level_dbc[real], response_db(RING, np.abs(heard.m[real]), np.abs(heard.n[real]))
    )


def test_receive_responses_use_the_receive_mixer(tern):
    two = tern.edited(("stages", "mixer", "direction"), "transmit")
    two = two.edited(
        ("stages",),
        (
            *two.stages[: two.stages.index(two.stage("mixer"))],
            Mixer(id="receive_mixer", name="Receive mixer", type="two_diode", direction="receive"),
            *two.stages[two.stages.index(two.stage("mixer")) :],
        ),
    )
    before, after = (of(Analysis(p), "20m", "receive", "2 signal − VFO") for p in (tern, two))
    # The suppression falls from 47 to 22 dB: the signal port of two diodes has no balance.
    assert after.level_dbc - before.level_dbc == pytest.approx(25.0, abs=0.01)


# -- filters in a row ----------------------------------------------------------------------------------------


def test_filters_asymmetric_ends_stand_the_same_way_in_both_directions(tern):
    # Of a path that is all filters the losses are alike in both directions, part by part as built.
    rig = tern.edited(("stages", "low_pass", "filters", 0, "as_built"), {"shunt:1": 1.2e-10})
    only = ("low_pass", "band_pass", "mixer")
    rig = rig.with_stages(tuple(stage for stage in rig.stages if stage.id in only))
    f = np.geomspace(1e6, 60e6, 101)
    heard, sent = (Analysis(rig).front_losses("20m", way, f) for way in ("receive", "transmit"))
    assert [len(chain) for chain in Analysis(rig).front_loss("20m", "transmit").chains] == [2]
    assert heard == pytest.approx(sent, abs=1e-9)


def test_filters_next_to_each_other_are_one_circuit():
    # The cascade by the scattering formula S21 = S21a S21b / (1 − S22a S11b), each filter between 50 ohm.
    bands = (
        Band(name="17m", low_hz=18.11e6, high_hz=18.168e6, scheme="if_minus_vfo"),
        Band(name="12m", low_hz=24.94e6, high_hz=24.99e6, scheme="sum"),
    )
    rig = Analysis(new_rig(bands, 21.47e6))
    (chain,) = rig.front_loss("17m", "receive").chains
    assert len(chain) == 2
    f = np.concatenate([np.geomspace(1e6, 60e6, 301), [21.47e6, 18.14e6]])
    first, second = (solve(design.network, f) for design in chain)
    s22 = solve(chain[0].network.reversed(), f).s11
    s21 = first.s21 * second.s21 / (1 - s22 * second.s11)
    expected = -20 * np.log10(np.abs(s21))
    lost = rig.front_losses("17m", "receive", f)
    assert lost == pytest.approx(expected, abs=1e-6)
    # At the IF the sum of the two is off by decibels.
    added = first.loss_db + second.loss_db
    assert abs((added[-2] - added[-1]) - (lost[-2] - lost[-1])) > 3


def test_an_amplifier_parts_the_filters_around_it(tern):
    rig = Analysis(tern.edited(("stages", "rf_stage", "in_path"), True))
    path = [stage.kind for stage in tern.path("transmit")]
    assert "power_amplifier" in path[path.index("band_pass") : path.index("low_pass")]
    assert [len(chain) for chain in rig.front_loss("20m", "transmit").chains] == [1, 1]
    assert [len(chain) for chain in rig.front_loss("20m", "receive").chains] == [2]
