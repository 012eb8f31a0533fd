"""Schemes of the read-out, one helper and one product at a time, in plain loops."""

from math import inf, sqrt
from types import SimpleNamespace

import numpy as np
import pytest

from core.model.bands import Band
from core.model.readout import Counter, ReadOut
from core.model.values.notation import format_value
from core.rig.figures.figure import keyed
from core.rig.figures.read_out import OTHERS, REFUSED, switching
from core.rig.plan.frequency_plan import band_plan
from core.rig.read_out.error import dial_error
from core.rig.read_out.helper import Helped, Pick
from core.rig.read_out.plan import _lacking, _worth, options, plan
from core.rig.read_out.schemes import COST, Reading, harmonics_heard, shown_hz, without_helper
from core.stages.outcome import Unsolved

SUM = band_plan(Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, scheme="sum"), 9.0e6)
FALLS = band_plan(Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, scheme="if_minus_vfo"), 19.66e6)
OVER = band_plan(Band(name="80m", low_hz=3.5e6, high_hz=3.8e6, scheme="vfo_minus_if"), 9.0e6)
ABOVE = band_plan(Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, scheme="sum"), 4.0e6)
#: Inside the ladder, above the carrier, where a counter's harmonics seldom are.
EDGES = {SUM: (9.0003e6, 9.0027e6), FALLS: (19.6603e6, 19.6627e6), OVER: (9.0003e6, 9.0027e6)}
EDGES[ABOVE] = (4.0003e6, 4.0027e6)


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


HELPERS = tuple(
    1e6 * mhz
    for mhz in (1.8432, 2.4576, 4.0, 5.12, 6.144, 7.3728, 8.192, 8.4672, 9.8304, 11.0592, 13.56, 14.318, 16.0)
) + tuple(1e6 * mhz for mhz in (19.2, 20.0, 22.1184, 24.0, 28.322))


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


# -- the plan of several bands -----------------------------------------------------------------------------


def test_what_picks_are_worth():
    plain, other = Pick(0.0, 9e6, "add"), Pick(1.0, 9e6, "subtract")
    helped = Pick(5.0, 2e6, "add", 3)
    missing = Unsolved("no scheme")
    # Each programme counts half a point; one helper serves all bands, and is switched where some do without.
    for picks, worth in [
        ([plain], (0, 0.5)),
        ([plain, plain], (0, 0.5)),
        ([plain, other], (0, 2.0)),
        ([helped], (0, 5.5)),
        ([helped, helped], (0, 6.5)),
        ([helped, helped, helped], (0, 7.5)),
        ([helped, plain], (0, 6.5)),
        ([plain, missing], (1, 0.5)),
        ([helped, missing], (1, 5.5)),
        ([missing, missing], (2, 0.0)),
        ([Pick(2.0, 0.0, "none")], (0, 2.0)),
    ]:
        assert _worth(picks) == pytest.approx(worth)


def test_switching_says_what_is_stored_and_how_it_is_chosen():
    def texts(bands, **values):
        counter = {k: v for k, v in values.items() if k != "helpers"}
        read_out = ReadOut(counter=Counter(**counter))
        made = plan(bands, read_out, EDGES[bands[0]], values.get("helpers", ()))
        return switching(made, read_out.counter)

    fifteen = band_plan(Band(name="15m", low_hz=21.0e6, high_hz=21.2e6, scheme="sum"), 16.0e6)
    assert texts((SUM,)) == ("20 m: programme 1 as always, add 9.000000 MHz.",)
    assert texts((SUM, fifteen), selected_by="jumper") == (
        "20 m: programme 1 by its jumper, add 9.000000 MHz.",
        "15 m: programme 2 by its jumper, add 16.000000 MHz.",
    )
    assert texts((SUM, fifteen), selected_by="button")[1].startswith("15 m: programme 2 by its button, ")
    assert texts((FALLS,), inputs=2) == ("20 m: nothing is stored; count both inputs.",)
    # 6.144 MHz less 5.66 MHz is 484 kHz at 14.0 MHz: 13.516 MHz are added.
    assert texts((FALLS,), helpers=(6.144e6,)) == (
        "20 m: programme 1 as always, add 13.516000 MHz, helper on.",
    )
    twelve = band_plan(Band(name="12m", low_hz=24.89e6, high_hz=24.99e6, scheme="sum"), 19.66e6)
    assert texts((FALLS, twelve), helpers=(6.144e6,))[1] == (
        "12 m: programme 2 by a line from the band switch, add 19.660000 MHz, helper off, "
        "VFO straight to the counter."
    )


def test_offsets_less_than_half_a_hertz_apart_are_one_programme():
    def programmes(apart):
        near = band_plan(Band(name="17m", low_hz=18.068e6, high_hz=18.168e6, scheme="sum"), 9.0e6 + apart)
        rows = plan((SUM, near), ReadOut(counter=Counter(digits=8)), EDGES[SUM], ()).bands
        return [row.programme for row in rows]

    assert programmes(0.4) == [1, 1]
    assert programmes(0.54) == [1, 2]


def test_what_was_refused_and_what_else_would_do_is_listed():
    bands = (FALLS,)
    (found,) = options(bands, ReadOut(), EDGES[FALLS], HELPERS)
    (row,) = plan(bands, ReadOut(), EDGES[FALLS], HELPERS).bands
    assert isinstance(row.reading, Reading)
    costs = [r.cost for r in found.alternatives]
    assert costs == sorted(costs)
    assert row.reading.cost <= costs[0]
    assert row.reading not in found.alternatives
    # Of the eight best helpers the first is taken.
    best = Helped(FALLS, Counter(), EDGES[FALLS], np.array(HELPERS)).best(8)
    assert row.reading == best[0]
    assert found.alternatives == tuple(best[1:])


def test_a_plan_without_helpers_says_what_is_missing():
    (row,) = plan((FALLS,), ReadOut(), EDGES[FALLS], ()).bands
    assert "another helper crystal may do" in row.reading.reason
    assert (row.programme, row.error) == (None, None)
    mixed = plan((SUM, FALLS), ReadOut(), EDGES[SUM], ())
    assert [isinstance(each.reading, Reading) for each in mixed.bands] == [True, False]
    # One programme alone is not switched, whatever another band lacks.
    assert switching(mixed, Counter()) == ("20 m: programme 1 as always, add 9.000000 MHz.",)
    assert plan((), ReadOut(), EDGES[SUM], HELPERS).bands == ()
    two = plan((SUM, FALLS), ReadOut(counter=Counter(inputs=2)), EDGES[SUM], ())
    told = switching(two, Counter(inputs=2))
    assert told[0].startswith("20 m: programme 1 as always")
    assert told[1].startswith("20 m: nothing is stored")


@pytest.mark.parametrize(
    ("vfo", "near"),
    [
        # A helper of 9 MHz inside the range of the VFO, below it, and above it by a half, thrice and a tenth.
        ((8e6, 10e6), 1.0),
        ((18e6, 20e6), 2.0),
        ((5e6, 6e6), 1.5),
        ((2e6, 3e6), 3.0),
        ((9.9e6, 12e6), 1.1),
    ],
)
def test_how_near_a_helper_comes_to_the_vfo(vfo, near):
    found = Helped._nearness(SimpleNamespace(helpers=np.array([9e6])), np.array(vfo))
    assert found == pytest.approx([near])
    assert Helped._nearness(SimpleNamespace(helpers=np.array([9e6])), np.array(vfo[::-1])) == found


@pytest.mark.parametrize(
    ("helper", "usable", "says"),
    [
        (None, True, "another helper crystal may do"),
        (None, False, "another helper crystal may do"),
        (8e6, False, "another helper crystal may do"),
        (8e6, True, "which the other bands need, does not serve this one"),
    ],
)
def test_why_a_band_is_not_shown_beside_others(helper, usable, says):
    of = SimpleNamespace(usable=np.array([[False, usable]]))
    assert says in _lacking(False, 2, of, helper).reason
    assert _lacking(True, 1, of, helper).reason.startswith("The counter keeps 1 programme and")
    assert _lacking(True, 2, of, helper).reason.startswith("The counter keeps 2 programmes and")


# -- the display and its error -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("counted", "offset", "direction", "shown"),
    [
        # Counts of 10 Hz, cut; what is stored is rounded.
        (5.000019e6, 0.0, "none", 5.00001e6),
        (5.0e6, 9.000004e6, "add", 14.0e6),
        (5.0e6, 9.000006e6, "add", 14.00001e6),
        (5.0e6, 3.0e6, "subtract", 2.0e6),
        (5.0e6, 5.00001e6, "subtract", 0.0),
        # Seven digits of 10 Hz end below 100 MHz.
        (95.0e6, 6.0e6, "add", 1.0e6),
    ],
)
def test_what_the_module_shows(counted, offset, direction, shown):
    assert shown_hz(Counter(), counted, offset, direction) == pytest.approx(shown, abs=0.01)


@pytest.mark.parametrize(
    ("scheme", "sideband", "measured", "unmeasured"),
    [
        # Only a difference from a higher VFO turns the sideband over.
        ("sum", "upper", "carrier_upper_hz", ()),
        ("sum", "upper", "carrier_lower_hz", ("carrier",)),
        ("sum", "lower", "carrier_lower_hz", ()),
        ("vfo_minus_if", "lower", "carrier_upper_hz", ()),
        ("vfo_minus_if", "lower", "carrier_lower_hz", ("carrier",)),
        ("vfo_minus_if", "upper", "carrier_lower_hz", ()),
    ],
)
def test_the_carrier_whose_measuring_counts_is_that_of_the_sideband_at_the_if(
    scheme, sideband, measured, unmeasured
):
    low = 3.5e6 if scheme == "vfo_minus_if" else 14.0e6
    band = Band(name="b", low_hz=low, high_hz=low + 0.3e6, sideband=sideband, scheme=scheme)
    made = band_plan(band, 9.0e6)
    (reading,), _ = without_helper(made, Counter(), EDGES[SUM])
    error = dial_error(reading, made, ReadOut(**{measured: 9.0e6}))
    top = low + 0.3e6
    assert error.unmeasured == unmeasured
    # 10 ppm of clock. Counted: dial ∓ carrier; a carrier counted with the same clock is off with it, one
    # only marked is off by 30 ppm of itself.
    counted = top + 9.0e6 if scheme == "vfo_minus_if" else top - 9.0e6
    wanted = 10e-6 * counted + 30e-6 * 9.0e6 if unmeasured else 10e-6 * top
    assert error.hz == pytest.approx(wanted)
    assert error.measured_hz == pytest.approx(10e-6 * top)
