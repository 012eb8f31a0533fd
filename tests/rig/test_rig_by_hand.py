"""What the rig's tables tell, by arithmetic done in the test: harmonics, products, drive, refusals."""

from dataclasses import replace
from math import log10, pi

import numpy as np
import pytest

from core.circuits.ladder import Arm, Network, Part, solve
from core.circuits.shapes.prototypes import attenuation_db, couplings, prototype, three_db_edge
from core.model.bands import Band
from core.model.readout import Counter, ReadOut
from core.rig.analysis import Analysis
from core.rig.bench.batch_figures import figures as figures_of
from core.rig.bench.batch_figures import histogram
from core.rig.bench.crystal_bench import BatchRow
from core.rig.birdie_finder import candidates
from core.rig.figures.products import CANDIDATES
from core.rig.levels.oscillator_drive import amplified, bare_dbm, driven_by, split_db
from core.rig.paper.export import response_touchstone, scattering
from core.rig.paper.report import as_text, report
from core.rig.plan.frequency_plan import band_plan
from core.rig.read_out.plan import plan
from core.rig.rules import inspect
from core.rig.spurs.product_levels import ordinarily_worked, response_db, sent_dbc
from core.rig.spurs.responses import response_lines, response_name
from core.rig.spurs.spurs import Spur, all_lines
from core.stages.crystals.crystals import CrystalParameters
from core.stages.mixers.figures import figures
from core.trade.mixers import suppression_db, typical
from core.trade.series import PAIRS, VALUES, nearest, neighbours, preferred


@pytest.mark.parametrize("name", ["20m", "12m"])
def test_every_signal_that_a_front_filter_keeps_out_stands_where_it_should(tern, name):
    analysis = Analysis(tern)
    plan, design = analysis.band_plan(name), analysis.filter_design("band_pass", name)
    dial = (plan.dial_low_hz + plan.dial_high_hz) / 2
    carrier = analysis.carrier_hz(name)
    # 20 m is IF - VFO, its image IF + VFO; 12 m is IF + VFO, its image IF - VFO.
    vfo = carrier - dial if name == "20m" else dial - carrier
    image = carrier + vfo if name == "20m" else carrier - vfo
    wanted = {"image": image, "IF": carrier, "VFO": vfo, "2 VFO": 2 * vfo, "3 VFO": 3 * vfo}
    wanted |= {"harmonic 2": 2 * dial, "harmonic 3": 3 * dial}
    rows = {row.name: row for row in analysis.rejections("band_pass", name, dial)}
    assert rows.keys() == wanted.keys()
    for each, at in wanted.items():
        assert rows[each].at_hz == pytest.approx(at), each
        loss = solve(design.network, np.array([at, dial])).loss_db
        assert rows[each].rejected_db == pytest.approx(loss[0] - loss[1], abs=1e-9), each


RING = typical("ring")


@pytest.mark.parametrize(
    ("m", "n", "backoff", "db"),
    [
        # 20 lg m and 1.5 dB for each further multiple; 25 dB where a balance holds; 22 dB an order of the
        # signal at 10 dB under compression, and a decibel more or less for each decibel of back-off.
        (1, 1, 10.0, 0.0),
        (3, 1, 10.0, 20 * log10(3) + 3.0),
        (5, 1, 4.0, 20 * log10(5) + 6.0),
        (2, 1, 10.0, 20 * log10(2) + 1.5 + 25.0),
        (1, 2, 10.0, 25.0 + 22.0),
        (1, 3, 10.0, 44.0),
        (1, 3, 4.0, 32.0),
        (1, 3, 20.0, 64.0),
        (1, 3, -5.0, 24.0),
        (0, 1, 10.0, 25.0),
        (2, 2, 10.0, 20 * log10(2) + 1.5 + 50.0 + 22.0),
    ],
)
def test_how_far_a_ring_holds_a_product_down(m, n, backoff, db):
    assert RING.balanced_m
    assert RING.balanced_n
    assert suppression_db(RING, m, n, backoff) == pytest.approx(db)


def test_what_a_mixer_sends_and_hears_besides(tern):
    made = figures(tern.stage("mixer"))
    worked = ordinarily_worked(made)
    # 10 dB under compression at its input, less its loss.
    assert worked.wanted_dbm == pytest.approx(made.p1db_in_dbm - 10.0 + made.gain_db)
    assert worked.vfo_dbm == made.drive_dbm
    # The VFO itself: drive less isolation, over the wanted signal.
    leak = worked.vfo_dbm - made.oscillator_leak_db - worked.wanted_dbm
    assert sent_dbc(made, worked, 1, 0) == pytest.approx(leak)
    assert response_db(made, 3, 1) == pytest.approx(-(20 * log10(3) + 3.0))


def test_a_vfo_that_drives_two_mixers_is_split_and_an_amplifier_makes_up_what_lacks(tern):
    assert [split_db(count) for count in (0, 1, 2, 4)] == pytest.approx([0, 0, 3.0103, 6.0206], abs=1e-4)
    weak = tern.edited(("vfo", "output_dbm"), 1.0).edited(("vfo", "amplifier_gain_db"), None)
    wanted = {each.stage: figures(weak.stage(each.stage)).drive_dbm for each in driven_by(weak, "vfo")}
    assert {each.oscillator for each in Analysis(weak).drives} == {"vfo", "carrier"}
    for each in driven_by(weak, "vfo"):
        assert each.missing_db == pytest.approx(wanted[each.stage] - 1.0)
    assert bare_dbm(weak, "vfo") == pytest.approx(1.0 + 10 * log10(max(len(wanted), 1)))
    strong = amplified(weak, "vfo")
    assert strong.vfo.output_dbm == pytest.approx(max(wanted.values()))
    assert strong.vfo.amplifier_gain_db == pytest.approx(max(wanted.values()) - 1.0)
    assert bare_dbm(strong, "vfo") == pytest.approx(bare_dbm(weak, "vfo"))
    assert amplified(strong, "vfo") is strong


def test_values_on_either_side_and_the_nearest_in_ratio():
    assert neighbours(243e-12, "E24") == (2.4e-10, 2.7e-10)
    assert neighbours(9.6e-9, "E12") == (8.2e-9, 1e-8)
    assert neighbours(1.05e-9, "E6") == (1e-9, 1.5e-9)
    assert neighbours(4.7, "E24") == (4.7, 4.7)
    # 1.2247 is the middle of 1 and 1.5 in ratio, not 1.25.
    assert preferred(1.22, "E6") == 1.0
    assert preferred(1.23, "E6") == 1.5
    stock = (10.0, 22.0, 47.0)
    assert nearest(20.0, stock) == (22.0, 22.0)
    assert nearest(12.0, stock) == (10.0, 10.0)
    assert nearest(15.0, stock) == (10.0, 22.0)
    assert nearest(31.0, (22.0, 47.0)) == (22.0, 22.0)
    assert nearest(100.0, stock) is None


@pytest.mark.parametrize("series", ["E12", "E24"])
def test_what_two_capacitors_in_parallel_can_make(series):
    row = VALUES[series]
    possible = set(row)
    for one in row:
        # No second smaller than a tenth of the first, and none larger than it.
        for other in (
            each for each in (*row, *(each / 10 for each in row)) if 0.0995 * one < each < 1.0005 * one
        ):
            total = round(one + other, 2)
            possible.add(total if total < 10 else round(total / 10, 3))
    assert set(PAIRS[f"{series}_pairs"]) == possible
    for total, parts in PAIRS[f"{series}_pairs"].items():
        assert sum(parts) == pytest.approx(total)
        assert (total in row) == (len(parts) == 1)


@pytest.mark.parametrize("order", [3, 4, 5, 6, 7, 8])
@pytest.mark.parametrize("ripple_db", [0.05, 0.5])
def test_a_chebyshev_prototype_has_the_response_of_its_polynomial(order, ripple_db):
    made = prototype("chebyshev", order, ripple_db)
    top = np.polynomial.chebyshev.Chebyshev.basis(order)
    epsilon2 = 10 ** (ripple_db / 10) - 1
    for omega in (0.0, 0.3, 0.8, 1.0, 1.3, 2.0, 4.0):
        chain = np.eye(2, dtype=complex)
        for place, g in enumerate(made.g):
            step = [[1, 1j * omega * g], [0, 1]] if place % 2 else [[1, 0], [1j * omega * g, 1]]
            chain = chain @ np.array(step)
        # Behind a series element, of which an even order has its last, the load counts as a conductance.
        load = made.load if order % 2 else 1 / made.load
        (a, b), (c, d) = chain
        lost = 10 * np.log10(abs(a * load + b + c * load + d) ** 2 / (4 * load))
        wanted = 10 * np.log10(1 + epsilon2 * top(omega) ** 2)
        assert lost == pytest.approx(wanted, abs=1e-9)
        assert attenuation_db("chebyshev", order, omega, ripple_db) == pytest.approx(wanted, abs=1e-9)
    edge = three_db_edge(order, ripple_db)
    assert attenuation_db("chebyshev", order, edge, ripple_db) == pytest.approx(3.0103, abs=1e-4)


def test_couplings_follow_from_the_prototype():
    g = prototype("chebyshev", 4, 0.2)
    made = couplings("chebyshev", 4, 0.2)
    assert made.k == pytest.approx([1 / np.sqrt(g.g[n] * g.g[n + 1]) for n in range(3)])
    assert made.q_first == pytest.approx(g.g[0]) == pytest.approx(made.q_last)
    assert attenuation_db("butterworth", 5, 2.0) == pytest.approx(10 * log10(1 + 2**10))


def spur(dial_hz, moves, level, *, crosses=True):
    """A tone of one band that is heard at `dial_hz`; the dial goes from 14.0 to 14.4 MHz."""
    return Spur(
        band="20m",
        kind="birdie",
        products=f"{level}",
        m=1,
        n=1,
        order=2,
        dial_hz=dial_hz,
        crosses=crosses,
        level_dbc=level,
        moves=moves,
        offset_low_hz=(dial_hz - 14.0e6) * moves,
        offset_high_hz=(dial_hz - 14.4e6) * moves,
    )


def test_the_finder_puts_near_and_strong_ones_first_and_tells_the_way_on_the_dial():
    near, loud, far = spur(14.2005e6, 2.0, -50.0), spur(14.2e6, -3.0, -20.0), spur(14.3e6, 2.0, 0.0)
    stays = spur(14.1e6, 0.0, -10.0)
    asked = {"dial_low_hz": 14.0e6, "dial_high_hz": 14.4e6, "heard_hz": 14.2e6}
    below = spur(14.15e6, 2.0, 0.0)
    found = candidates((far, below, near, loud), **asked)
    assert [each.spur for each in found] == [loud, near, below, far]
    # On the dial, not as the tone runs: 50 kHz down and 100 kHz up the dial, whatever times it moves.
    assert [each.miss_hz for each in found] == pytest.approx([0.0, 500.0, -50e3, 100e3])
    assert [c.spur for c in candidates((far, near, loud), **asked, moves=2.4)] == [near, far]
    assert [c.spur for c in candidates((far, near, loud), **asked, moves=2.6)] == [loud]
    assert [c.spur for c in candidates((far, near, loud), **asked, moves=-2.6)] == [loud]
    assert [c.spur for c in candidates((far, near, loud, stays), **asked, direction="against")] == [loud]
    assert [c.spur for c in candidates((near, loud, stays), **asked, direction="with")] == [near]
    (still,) = candidates((stays,), **asked)
    assert still.miss_hz == 0
    (expected,) = (figure for figure in CANDIDATES if figure.key == "expected")
    assert [expected.text(each) for each in (*found, still)] == [
        *("14.200 MHz", "14.200 MHz", "14.150 MHz", "14.300 MHz"),
        "all over the dial",
    ]
    assert expected.text(replace(still, spur=replace(stays, crosses=False))) == "nowhere on the dial"
    assert candidates((spur(14.1e6, 0.0, -10.0, crosses=False),), **asked) == ()


def test_the_report_tells_what_is_set_to_the_hertz_and_the_rest_to_what_can_be_read(tern):
    data = report(Analysis(tern))
    text = as_text(data)

    carrier, vfo = data["carrier"][0]["frequency_hz"], data["frequency_plan"][0]["vfo_low_hz"]
    assert f" {carrier / 1e6:.6f} MHz" in text
    assert f" {vfo / 1e6:.4f} to " in text
    assert f"{vfo / 1e6:.6f}" not in text


def test_two_filters_for_one_band_and_none_are_told(tern):
    first = tern.stage("band_pass").filters[0]
    doubled = tern.edited(("stages", "band_pass", "filters"), (*tern.stage("band_pass").filters, first))
    told = [f for f in inspect(Analysis(doubled)) if f.rule == "band_with_two_filters"]
    assert [(f.severity, f.stage, f.band) for f in told] == [("caution", "band_pass", first.bands[0])]
    assert "has 2 filters for 20 m; the first is used" in told[0].text
    bare = tern.edited(("stages", "band_pass", "filters"), tern.stage("band_pass").filters[1:])
    told = [f for f in inspect(Analysis(bare)) if f.rule == "band_without_filter"]
    assert [(f.severity, f.band) for f in told] == [("fault", first.bands[0])]
    clean = inspect(Analysis(tern))
    assert not [f for f in clean if f.rule in ("band_with_two_filters", "band_without_filter")]


def refusals(rig, band):
    """All that is said against a band's schemes."""
    return [each for o in Analysis(rig).read_out_options if o.band == band for each in o.refused]


def test_a_counter_says_what_it_cannot(tern):
    counter = ("read_out", "counter")
    deaf = tern.edited((*counter, "adds"), False).edited((*counter, "subtracts"), False)
    reasons = {each.words for band in ("20m", "12m") for each in refusals(deaf, band)}
    assert "The counter cannot add." in reasons
    assert "The counter cannot subtract." in reasons
    slow = tern.edited((*counter, "highest_hz"), 5e6)
    assert any("is outside what the counter counts" in each.words for each in refusals(slow, "12m"))
    plain = {each.words for band in ("20m", "12m") for each in refusals(tern, band)}
    assert not plain & {"The counter cannot add.", "The counter cannot subtract."}


@pytest.mark.parametrize("order", [1, 2, 3, 5])
def test_every_product_is_listed_once(order):
    lines = all_lines(order)
    pairs = set(zip(lines.a.tolist(), lines.b.tolist(), strict=True))
    assert len(pairs) == lines.a.size
    # The lattice points with 1 <= |a| + |b| <= N are 2 N (N + 1); each and its negative are one product.
    assert len(pairs) == order * (order + 1)
    assert not any((-a, -b) in pairs for a, b in pairs)
    assert max(abs(a) + abs(b) for a, b in pairs) == order == lines.order.max()


def test_every_response_is_listed_once_and_multiples_reach_to_eleven():
    lines = response_lines()
    pairs = list(zip(lines.a.tolist(), lines.b.tolist(), strict=True))
    assert len(set(pairs)) == len(pairs)
    # m VFO + n input = IF and its mirror with both signs turned cannot both be above zero: (-m, -n) is out.
    assert not any(m <= 0 and n < 0 for m, n in pairs)
    assert {abs(m) for m, n in pairs if abs(n) == 1} == set(range(12))
    assert {abs(m) for m, n in pairs if abs(n) == 4} == set(range(6))
    assert [response_name(*pair) for pair in ((1, 1), (-1, 1), (0, 1))] == [
        "image",
        "image",
        "IF breakthrough",
    ]


def test_a_network_between_unequal_ends_is_written_for_one_and_says_so():
    parts = (Part("R1", "resistor", 100.0),)
    unequal = Network((Arm("series", parts),), 50.0, 200.0)
    own = response_touchstone(unequal, np.array([1e6]), None, "unequal").splitlines()
    assert "! Designed between 50 and 200 ohm; referred to the first." in own
    assert "# Hz S RI R 50" in own
    given = response_touchstone(unequal, np.array([1e6]), 75.0, "unequal").splitlines()
    assert not any("Designed between" in line for line in given)
    assert "# Hz S RI R 75" in given
    alike = response_touchstone(Network((Arm("series", parts),), 50.0, 50.0), np.array([1e6]), None, "alike")
    assert "Designed between" not in alike
    # 100 ohm in a line of Z: S21 = 2 Z / (2 Z + 100), S11 = 100 / (2 Z + 100).
    for ohm in (50.0, 75.0):
        s = scattering(unequal, np.array([1e6]), ohm)
        assert s[1, 0] == pytest.approx([2 * ohm / (2 * ohm + 100)])
        assert s[0, 0] == pytest.approx([100 / (2 * ohm + 100)])


def test_a_network_is_written_in_real_and_imaginary_parts_each_way():
    # 1 uH at 10 MHz is 62.83j ohm, and 50 ohm across the far end: an L that looks different from each side.
    arms = (
        Arm("series", (Part("L1", "inductor", 1e-6),)),
        Arm("shunt", (Part("R1", "resistor", 50.0),)),
    )
    row = response_touchstone(Network(arms, 50.0, 50.0), np.array([10e6]), None, "L").splitlines()[-1]
    x = 2j * pi * 10e6 * 1e-6
    ahead, back = x + 25.0, 1 / (1 / 50 + 1 / (50 + x))
    through = 2 * 25.0 / (50 + ahead)
    expected = [(ahead - 50) / (ahead + 50), through, through, (back - 50) / (back + 50)]
    numbers = [float(each) for each in row.split()]
    assert numbers[0] == 10e6
    assert numbers[1:] == pytest.approx([part for s in expected for part in (s.real, s.imag)])


def test_a_dial_that_tunes_fast_is_told_until_the_drive_is_slow_enough(tern):
    # Half the reduction is twice the hertz a turn: 35.5 kHz on 20 m with 36 : 1, 71 kHz with 18 : 1.
    reduction = ("vfo", "tank", "variable", "reduction")
    assert not [f for f in inspect(Analysis(tern)) if f.rule == "vfo_fast"]
    usual = Analysis(tern).vfo_on("20m").dial.worst_hz_per_turn
    fast = tern.edited(reduction, tern.at(reduction) / 2)
    assert Analysis(fast).vfo_on("20m").dial.worst_hz_per_turn == pytest.approx(2 * usual)
    told = [f for f in inspect(Analysis(fast)) if f.rule == "vfo_fast"]
    assert [(f.severity, f.band) for f in told] == [("caution", "20m")]
    assert f"tunes up to {2 * usual / 1e3:.0f} kHz on 20 m; 50 kHz is easy to set" in told[0].text
    # Followed: as much more reduction as is needed, and a little less is told again.
    enough = tern.at(reduction) * usual / 50e3
    for factor, left in ((1.01, 0), (0.99, 1)):
        found = inspect(Analysis(tern.edited(reduction, enough * factor)))
        assert len([f for f in found if f.rule == "vfo_fast"]) == left


def test_crystals_that_resonate_beside_the_if_are_those_of_another_if(tern):
    # 700 Hz above the IF they make the ladder and the carrier of an IF 700 Hz higher.
    beside = Analysis(tern.edited(("stages", "ladder", "crystal", "offset_hz"), 700.0))
    higher = Analysis(tern.edited(("if_hz",), tern.if_hz + 700.0))
    for one, other in zip(beside.carriers, higher.carriers, strict=True):
        assert one.place.frequency_hz == pytest.approx(other.place.frequency_hz, abs=0.5)
        assert one.pulling.reachable_low_hz == pytest.approx(other.pulling.reachable_low_hz, abs=0.5)
        assert one.pulling.reachable_high_hz == pytest.approx(other.pulling.reachable_high_hz, abs=0.5)
        assert one.pulling.coil_h == pytest.approx(other.pulling.coil_h, rel=1e-3)
        assert one.pulling.trimmer_f == pytest.approx(other.pulling.trimmer_f, rel=1e-3)


def test_bands_on_either_side_of_the_filter_want_a_programme_each():
    # VFO counted and the carrier added: carriers 2.6 kHz apart are two numbers to store, one carrier is one.
    carrier, edges = 9.0e6, (9.0e6, 9.0026e6)
    for other, programmes in ((carrier + 2600, [1, 2]), (carrier, [1, 1])):
        bands = tuple(
            band_plan(Band(name=name, low_hz=low, high_hz=low + 100e3, scheme="sum"), at)
            for name, low, at in (("20m", 14.1e6, carrier), ("17m", 18.07e6, other))
        )
        rows = plan(bands, ReadOut(counter=Counter(digits=8)), edges, ()).bands
        assert [row.reading.offset_hz for row in rows] == pytest.approx([carrier, other], abs=10)
        assert [row.programme for row in rows] == programmes


def bag(*offsets):
    """A batch of crystals that lie so far [Hz] from 9 MHz, all else alike."""
    return tuple(
        BatchRow(f"{n}", CrystalParameters(label=f"{n}", fs_hz=9e6 + off, lm_h=15e-3 + 1e-5 * n, c0_f=3e-12))
        for n, off in enumerate(offsets)
    )


def test_a_bags_mean_and_deviation_are_those_of_a_sample():
    found = figures_of(bag(0.0, 30.0, 90.0))
    # Mean 40; (40² + 10² + 50²) / 2 = 2100.
    assert found.fs_hz == pytest.approx((9e6 + 40, 2100**0.5))
    assert found.lm_h == pytest.approx((15.01e-3, 1e-5))
    assert (found.count, found.spread_hz) == (3, 90.0)
    alone = figures_of(bag(30.0))
    assert alone.fs_hz == (9e6 + 30, 0.0)
    assert figures_of(()) is None


def test_what_lies_outside_a_histogram_is_counted_at_its_ends():
    # The median deviation of these is 2, so 4 times 1.4826 times that, 11.9, is how far the picture goes.
    made = histogram(bag(-1000.0, -3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0, 1200.0))
    assert made.median_hz == 9e6
    assert [made.edges_hz[0], made.edges_hz[-1]] == pytest.approx([-3.0, 3.0])
    assert (made.below, made.above) == (1, 1)
    assert made.counts.sum() == 9
    plain, _ = np.histogram([-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0], bins=made.edges_hz)
    assert made.counts[0] == plain[0] + 1
    assert made.counts[-1] == plain[-1] + 1
