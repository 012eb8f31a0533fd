"""Schemes of the read-out, one helper and one product at a time, in plain loops."""

from math import inf, sqrt

import numpy as np
import pytest

from core.model.bands import Band
from core.model.readout import Counter
from core.model.values.notation import format_value
from core.rig.figures.figure import keyed
from core.rig.figures.read_out import OTHERS, REFUSED
from core.rig.plan.frequency_plan import band_plan
from core.rig.read_out.helper import Helped
from core.rig.read_out.schemes import COST, harmonics_heard, without_helper
from tests.read_out_bands import ABOVE, EDGES, FALLS, HELPERS, OVER, SUM


def direct(band, counter):
    """Readings by name and refusals by scheme, without a helper."""
    readings, refused = without_helper(band, counter, EDGES[band])
    return {r.scheme: r for r in readings}, {each.scheme: REFUSED[1].text(each) for each in refused}


ADDED, SUBTRACTED = "VFO counted, carrier added", "VFO counted, carrier subtracted"


@pytest.mark.parametrize(
    ("band", "counter", "scheme", "reason"),
    [
        # 5.0 to 5.35 MHz and 9 MHz make the dial; the difference is below zero.
        (SUM, {}, SUBTRACTED, "5.000 MHz less 9.000 MHz is negative, and the module shows zeros for that."),
        # A tenth of a second counts tens of hertz: six digits end at 10 MHz, five of 100 Hz too.
        (SUM, {"digits": 6}, ADDED, "The dial's first digit is lost: 6 digits of 10 Hz are too few."),
        (
            SUM,
            {"digits": 5, "gate_s": 0.01},
            ADDED,
            "The dial's first digit is lost: 5 digits of 100 Hz are too few.",
        ),
        # 5.66 to 5.31 MHz: with 19.66 MHz it is 25.32 MHz, falling.
        (FALLS, {}, ADDED, "It would show 25.320 MHz for a dial of 14.000 MHz and runs the wrong way."),
        (
            FALLS,
            {},
            SUBTRACTED,
            "5.660 MHz less 19.660 MHz is negative, and the module shows zeros for that.",
        ),
        # 12.5 to 12.8 MHz: with 9 MHz it is 21.5 MHz, rising.
        (OVER, {}, ADDED, "It would show 21.500 MHz for a dial of 3.500 MHz."),
        # Six digits show 21.5 MHz less 20, which is no matter of the dial's digits.
        (OVER, {"digits": 6}, ADDED, "It would show 1.500 MHz for a dial of 3.500 MHz."),
        (SUM, {"adds": False}, ADDED, "The counter cannot add."),
        (OVER, {"subtracts": False}, SUBTRACTED, "The counter cannot subtract."),
        (
            SUM,
            {"highest_hz": 5.3e6},
            ADDED,
            "5.000 MHz to 5.350 MHz is outside what the counter counts (0.100 MHz to 5.300 MHz).",
        ),
        (
            SUM,
            {"lowest_hz": 5.1e6},
            ADDED,
            "5.000 MHz to 5.350 MHz is outside what the counter counts (5.100 MHz to 50.000 MHz).",
        ),
        # Counted in turn, the carrier must be within reach too.
        (
            SUM,
            {"inputs": 2, "highest_hz": 8e6},
            "VFO and carrier both counted, carrier + VFO",
            "5.000 MHz to 9.000 MHz is outside what the counter counts (0.100 MHz to 8.000 MHz).",
        ),
        (
            FALLS,
            {},
            "VFO and carrier both counted, carrier − VFO",
            "The counter has one input and cannot count two frequencies in turn.",
        ),
        # 10 less 4 MHz is positive, and no digit is lost; it is another frequency.
        (ABOVE, {}, SUBTRACTED, "It would show 6.000 MHz for a dial of 14.000 MHz."),
    ],
)
def test_why_a_scheme_without_a_helper_is_turned_down(band, counter, scheme, reason):
    readings, refused = direct(band, Counter(**counter))
    assert refused[scheme] == reason
    assert scheme not in readings


@pytest.mark.parametrize(
    ("band", "scheme", "counted", "offset", "direction"),
    [
        (SUM, ADDED, (5.0e6, 5.35e6), 9.0e6, "add"),
        (OVER, SUBTRACTED, (12.5e6, 12.8e6), 9.0e6, "subtract"),
    ],
)
def test_a_vfo_that_rises_is_counted_as_it_is(band, scheme, counted, offset, direction):
    readings, _ = direct(band, Counter())
    assert list(readings) == [scheme]
    r = readings[scheme]
    assert (r.arrangement, r.helper_hz, r.filter_hz, r.counts) == ("direct", None, (), (1, 0))
    assert r.counted_hz == pytest.approx(counted)
    assert (r.offset_hz, r.direction) == (offset, direction)
    assert r.shows_hz == pytest.approx((band.dial_low_hz, band.dial_high_hz))
    assert (r.birdies, r.cost) == (0, 0.0)


def test_two_inputs_cost_and_a_harmonic_on_the_dial_costs_more():
    quiet, _ = direct(SUM, Counter(inputs=2))
    both = quiet["VFO and carrier both counted, carrier + VFO"]
    assert (both.arrangement, both.direction, both.offset_hz) == ("both", "none", 0.0)
    assert both.counted_hz == (14.0e6, 14.35e6)
    assert (both.birdies, both.cost) == (0, COST["both"])
    # 4.7 MHz less 9 MHz: three times 4.7 to 5.05 MHz sweeps 14.1 to 15.15 MHz, past the dial 13.7 to 14.05.
    # Two times that is 9.4 MHz at least, above the IF, and on the image 4.3 to 3.95 MHz nothing falls.
    low = band_plan(Band(name="20m", low_hz=13.7e6, high_hz=14.05e6, scheme="sum"), 9.0e6)
    assert not without_helper(low, Counter(), EDGES[SUM])[0][0].birdies
    # 4.4 to 4.6 MHz: once it crosses the image, 4.6 to 4.4 MHz, twice the IF, three times the dial.
    met = band_plan(Band(name="20m", low_hz=13.4e6, high_hz=13.6e6, scheme="sum"), 9.0e6)
    heard, _ = without_helper(met, Counter(inputs=2), EDGES[SUM])
    assert [r.birdies for r in heard] == [3, 3]
    assert [r.cost for r in heard] == [3 * COST["harmonic"], COST["both"] + 3 * COST["harmonic"]]


@pytest.mark.parametrize(("off_hz", "heard"), [(-1300, 0), (-1100, 1), (1100, 1), (1300, 0), (2500, 0)])
def test_a_harmonic_inside_the_pass_band_is_heard_all_over_the_dial(off_hz, heard):
    # Twice what is counted lies that far from the middle of a pass-band 2.4 kHz wide, wherever the dial is.
    still = np.full(2, (9.0015e6 + off_hz) / 2)
    assert harmonics_heard(SUM, EDGES[SUM], still) == heard


PRODUCTS = {(1, -1): "helper − VFO", (-1, 1): "VFO − helper", (1, 1): "helper + VFO"}


def naive(band, counter, edges, helper, signs):
    """One helper with one product: reason number or None, low-pass or not, birdies, cost, counted, room."""
    of_helper, of_vfo = signs
    ends = (band.dial_low_hz, band.dial_high_hz)
    vfo = tuple(band.vfo_at(end) for end in ends)
    counted = tuple(of_helper * helper + of_vfo * v for v in vfo)
    low, high = min(counted), max(counted)
    rivals = [helper, *vfo, *(abs(of_helper * helper - of_vfo * v) for v in vfo)]
    above = min((r / high for r in rivals if r >= low), default=inf)
    below = min((low / r if r else inf for r in rivals if r <= high), default=inf)
    offset = ends[0] - counted[0]
    step = counter.prescaler / counter.gate_s

    def meets(line, places, reach=3000.0):
        """Whether a line over the dial comes near the places at its ends, or crosses them between."""
        away = [one - place for one, place in zip(line, places, strict=True)]
        return min(map(abs, away)) <= reach or away[0] * away[1] < 0

    strong = [(k * helper, k * helper) for k in (1, 2, 3)]
    strong += [tuple(helper + v for v in vfo), tuple(abs(helper - v) for v in vfo)]
    strong += [tuple(k * c for c in counted) for k in (1, 2, 3)]
    wrong = [
        counted[1] < counted[0],
        low < counter.lowest_hz or high > counter.highest_hz,
        not (counter.adds if offset >= 0 else counter.subtracts),
        ends[1] >= 10**counter.digits * step,
        min(above, below) < 1.15,
        any(meets(line, ends) for line in strong),
        any(min(line) <= edges[1] + 3000 and max(line) >= edges[0] - 3000 for line in strong),
        any(all(abs(s - e) <= 0.02 * e for s, e in zip(line, ends, strict=True)) for line in strong),
    ]
    weak = 0
    for a in range(7):
        for b in range(-6, 7):
            if b and a + abs(b) <= 6 and (a > 0 or b > 0):
                weak += meets(tuple(abs(a * v + b * helper) for v in vfo), ends)
    image = tuple({"sum": abs(band.carrier_hz - v)}.get(band.scheme, band.carrier_hz + v) for v in vfo)
    middle, half = sum(edges) / 2, (edges[1] - edges[0]) / 2
    heard = sum(
        meets(tuple(k * c for c in counted), places, reach)
        for k in range(1, 16)
        for places, reach in ((ends, 3000.0), (image, 3000.0), ((middle, middle), half))
    )
    nearest = (
        1.0 if (helper - vfo[0]) * (helper - vfo[1]) < 0 else min(max(helper / v, v / helper) for v in vfo)
    )
    low_pass = above >= 1.5 and below == inf
    cost = 4.0 + (0 if low_pass else 1.0) + 0.3 * weak + 2.0 * heard + (1.0 if nearest < 1.3 else 0.0)
    return wrong, low_pass, weak, heard, cost, counted, offset, above


@pytest.mark.parametrize("band", [SUM, FALLS, OVER], ids=["sum", "falls", "over"])
@pytest.mark.parametrize(
    "counter",
    [{}, {"digits": 6}, {"highest_hz": 20e6, "lowest_hz": 4e6}, {"adds": False}, {"subtracts": False}],
    ids=str,
)
def test_every_helper_and_product_is_judged_as_by_hand(band, counter):
    counter = Counter(**counter)
    made = Helped(band, counter, EDGES[band], np.array(HELPERS))
    for crystal, helper in enumerate(HELPERS):
        usable = []
        for number, signs in enumerate(PRODUCTS):
            told = f"{PRODUCTS[signs]}, {helper}"
            wrong, low_pass, weak, heard, cost, counted, offset, room = naive(
                band, counter, EDGES[band], helper, signs
            )
            assert made.wrong[:, crystal, number].tolist() == wrong, told
            assert bool(made.low_pass[crystal, number]) is low_pass, told
            assert made.birdies[crystal, number] == weak + heard, told
            assert made.cost[crystal, number] == pytest.approx(cost), told
            if any(wrong):
                continue
            usable.append((cost, number))
            r = made.reading(crystal, number)
            assert r.scheme.startswith(PRODUCTS[signs])
            assert r.counts == (signs[1], signs[0])
            assert r.counted_hz == pytest.approx(counted)
            assert (r.offset_hz, r.direction) == (
                pytest.approx(abs(offset)),
                "add" if offset >= 0 else "subtract",
            )
            assert r.shows_hz == pytest.approx((band.dial_low_hz, band.dial_high_hz), abs=25)
            filter_text = keyed(OTHERS)["filter"].text(r)
            if low_pass:
                # Half way in ratio to the nearest of the others, or to twice as high.
                edge = max(counted) * sqrt(min(room, 2.0))
                assert r.filter_hz == pytest.approx((edge,))
                assert filter_text == f"low-pass at {format_value(edge, 'Hz', 3)}"
            else:
                assert r.filter_hz == pytest.approx(tuple(sorted(counted)))
                assert filter_text.startswith("band-pass ")
                assert filter_text.endswith(format_value(max(counted), "Hz", 3))
        found = made.pick(crystal)
        assert (found is None) == (not usable)
        if found:
            assert (found.cost, found.number) == (pytest.approx(min(usable)[0]), min(usable)[1])
            assert found.crystal == crystal
            assert found.offset_hz == made.reading(crystal, found.number).offset_hz
            assert found.direction == made.reading(crystal, found.number).direction


@pytest.mark.parametrize("band", [SUM, FALLS, OVER], ids=["sum", "falls", "over"])
def test_refusals_count_the_crystals_by_their_first_reason(band):
    made = Helped(band, Counter(), EDGES[band], np.array(HELPERS))
    told = made.refusals()
    for signs, name in PRODUCTS.items():
        first = [naive(band, Counter(), EDGES[band], h, signs)[0] for h in HELPERS]
        counts = [sum(any(w) and w.index(True) == reason for w in first) for reason in range(8)]
        said = [REFUSED[0].text(each) for each in told if each.scheme == name]
        assert len(said) == sum(count > 0 for count in counts)
        assert [
            int(each.removeprefix(f"{name}, ").split()[0]) if "crystals" in each else 1 for each in said
        ] == [count for count in counts if count]


def test_the_best_helpers_come_first_one_reading_each():
    made = Helped(FALLS, Counter(), EDGES[FALLS], np.array(HELPERS))
    best = made.best(99)
    costs = {}
    for helper in HELPERS:
        each = [naive(FALLS, Counter(), EDGES[FALLS], helper, signs) for signs in PRODUCTS]
        usable = [row[4] for row in each if not any(row[0])]
        if usable:
            costs[helper] = min(usable)
    assert 2 <= len(costs) < len(HELPERS)
    assert {r.helper_hz: r.cost for r in best} == pytest.approx(costs)
    assert [r.cost for r in best] == sorted(costs.values())
    assert [r.helper_hz for r in made.best(1)] == [best[0].helper_hz]
    assert Helped(FALLS, Counter(), EDGES[FALLS], np.array([])).best(3) == []
