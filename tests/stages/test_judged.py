"""Verdicts of measured curves: good filters are within, bad ones out, and better told than by the shade."""

import numpy as np
import pytest

from core.circuits.active.linear import around
from core.circuits.active.many import at_rest, only
from core.circuits.active.two_port import of_linear, two_port
from core.circuits.ladder import frozen
from core.model.files import load
from core.model.samples import sample_path
from core.rig.analysis import Analysis
from core.rig.scattered import spreads
from core.stages.amplifiers.scattered import draw as draw_amplifiers
from core.stages.built.corridor import corridor
from core.stages.built.judged import Expected, judged, scattered, scattered_gain
from core.stages.tolerance.drawn import draw, peaked, trimming_hz

FILTERS = 80
#: By stage parts of it, and by what each alone is wrong: hertz, or a share.
WRONG = {
    "ladder": (("X4", -300.0), ("X4", -400.0), ("C4", -0.3), ("X5", 300.0)),
    "band_pass": (("CC1", 0.3), ("CC1", 0.2), ("L2", -0.2)),
    "low_pass": (("L1", -0.2), ("C2", -0.2), ("L2", -0.15), ("L3", 0.2)),
}


@pytest.fixture(scope="module")
def tern():
    return Analysis(load(sample_path()))


def of(tern, stage):
    """A filter, frequencies, what is expected of it, and its dials."""
    design, member = tern.filter_design(stage, "20m"), tern.member_on(stage, "20m")
    f = frozen(np.linspace(*design.span_hz, 201))
    dials = tern.dials(member.bands or ())
    return design, f, scattered(design, f, spreads(tern.project.scatter), dials), dials


def built(tern, stage, wrong=None):
    """Losses of filters other than those that it is judged by, as a simple instrument reads them."""
    design, f, _, dials = of(tern, stage)
    values = draw(design.circuit, spreads(tern.project.scatter), FILTERS, seed=7)
    if wrong is not None:
        ref, off = wrong
        values[ref] = values[ref] + off if ref[0] == "X" else values[ref] * (1 + off)
    if design.trimmed and dials:
        values = peaked(design, trimming_hz(dials), values)
    loss = design.response(f, values).loss_db
    noise = np.random.default_rng(3)
    zero = noise.uniform(-0.3, 0.3, (FILTERS, 1))
    floor = 3e-5 * (noise.normal(size=loss.shape) + 1j * noise.normal(size=loss.shape))
    return zero - 20 * np.log10(np.abs(10 ** (-loss / 20) + floor))


def share_within(tern, stage, losses):
    expected = of(tern, stage)[2]
    return np.mean([judged(loss, expected).within for loss in losses])


def share_in_the_shade(tern, stage, losses):
    """The simple measure: a filter is good where its pass-band lies in the shade of tolerances, but for the
    instrument's error.
    """
    design, f, expected, dials = of(tern, stage)
    shade = corridor(design, f, spreads(tern.project.scatter), dials)
    inside = expected.loss_db < expected.loss_db.min() + 3
    good = (losses >= shade.low_db - 0.5) & (losses <= shade.high_db + 0.5)
    return np.mean(good[:, inside].all(axis=1))


@pytest.mark.parametrize("stage", WRONG)
def test_good_filters_are_within_and_a_wrong_part_is_told_more_often_than_by_the_shade(tern, stage):
    good, bad = built(tern, stage), np.vstack([built(tern, stage, wrong) for wrong in WRONG[stage]])
    assert share_within(tern, stage, good) >= 0.95
    assert share_within(tern, stage, good) >= share_in_the_shade(tern, stage, good)
    told, simply = 1 - share_within(tern, stage, bad), 1 - share_in_the_shade(tern, stage, bad)
    assert told > 0.65
    assert told > simply + 0.1


def test_the_words_tell_what_is_off_where_and_how_far_it_may_be(tern):
    design, f, expected, _ = of(tern, "low_pass")
    part = next(each for each in design.network.parts if each.ref == "L2")
    loss = design.response(f, {"L2": np.array([0.7 * part.value])}).loss_db.ravel()
    found = judged(loss, expected)
    assert not found.within
    edge = next(each for each in found.offs if each.what.startswith("upper edge"))
    # By interpolation on the curves themselves.
    reached = [np.interp(6.0, db[f > 14e6] - db.min(), f[f > 14e6]) for db in (loss, expected.loss_db)]
    assert edge.off == pytest.approx(reached[0] - reached[1], rel=0.02)
    assert edge.at_hz == pytest.approx(reached[0], rel=1e-3)
    assert "upper edge (−6 dB) at " in found.words
    in_band = found.offs[0]
    there = int(np.argmin(np.abs(f - in_band.at_hz)))
    assert in_band.off == pytest.approx(loss[there] - expected.loss_db[there], abs=1e-9)


def test_a_trap_that_fails_is_told_though_the_pass_band_is_good(tern):
    design, f, expected, _ = of(tern, "low_pass")
    loss = design.response(f).loss_db.copy()
    held = expected.loss_db > 40
    assert held.any()
    loss[held] = np.minimum(loss[held], 30.0)
    found = judged(loss, expected)
    assert [each.what for each in found.offs if not each.within] == ["loss where it holds back"]
    assert "dB less" in found.words
    # More loss than expected there is no fault.
    assert judged(np.where(held, 200.0, design.response(f).loss_db), expected).within


def flat(gain_db, count=21):
    f = frozen(np.linspace(14e6, 14.35e6, count))
    return Expected(
        f_hz=f, loss_db=frozen(np.full(count, -gain_db)), trials_db=frozen(np.empty((0, count))), gains=True
    )


def test_a_gain_without_trials_may_be_a_decibel_off():
    assert judged(-np.full(21, 15.2), flat(16.0)).within
    found = judged(-np.full(21, 14.6), flat(16.0))
    assert found.words == "gain up to 1.4 dB less, at 14 MHz (1.0 dB may be)."
    assert judged(-np.full(21, 17.4), flat(16.0)).words.startswith("gain up to 1.4 dB more")


def test_too_few_points_are_told():
    found = judged(-np.full(3, 16.0), flat(16.0, 3))
    assert "has 3 points in the pass-band" in found.reason


def test_amplifiers_of_any_bag_are_within_and_one_with_a_wrong_resistor_is_out(tern):
    design, f = tern.design("rf_stage", "20m"), frozen(np.linspace(1e6, 58e6, 61))
    parts = spreads(tern.project.scatter)
    times, _ = draw_amplifiers(design.circuit, design.transistor, parts, 60, seed=9)

    def gains(many):
        rests, settled = at_rest(design.circuit, design.rest, many)
        return of_linear(around(design.circuit, rests, only(many, settled)), f).gain_db(50.0, 50.0)

    nominal = two_port(design.circuit, f).gain_db(50.0, 50.0)
    expected = scattered_gain(design, f, nominal, parts, (50.0, 50.0))
    assert expected.trials_db.shape == (64, 61)
    assert np.mean([judged(-row, expected).within for row in gains(times)]) >= 0.95
    role = next(b.part.ref for b in design.circuit.branches if b.part.role == "degeneration")
    wrong = {**times, role: 0.5 * times.get(role, np.ones(60))}
    assert np.mean([judged(-row, expected).within for row in gains(wrong)]) <= 0.1
