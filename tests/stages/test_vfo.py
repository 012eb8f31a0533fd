"""The VFO's parts and behaviour: whatever is asked is covered, or it is said what stands in the way."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.model.stages.tank import Feedback, Tank, TuningCapacitor, Warmth, points_of
from core.model.values.errors import DesignError
from core.model.values.notation import parse
from core.stages.outcome import Unsolved
from core.stages.vfo import start_up, tank_design, vfo
from core.stages.vfo.tank import WantedRange, resonance
from core.stages.vfo.tank_design import design
from core.trade.series import preferred

BAND = (WantedRange("20m", 5.31e6, 5.56e6),)
#: A plain range with one below, shifted across the tuning, and one above, shifted in series.
SHIFTED = (
    WantedRange("a", 3.3e6, 3.5e6),
    WantedRange("b", 2.9e6, 3.0e6, "parallel"),
)


def series_tuned(**fields):
    return Tank(tuned="series", coil_h=9e-6, **fields)


@pytest.mark.parametrize("find", ["padder_and_parallel", "coil_and_parallel", "coil_and_padder"])
@pytest.mark.parametrize("tank", [Tank(), series_tuned()], ids=["parallel", "series"])
@pytest.mark.parametrize("wanted", [BAND, SHIFTED], ids=["one range", "with a shift"])
def test_every_way_of_finding_covers_what_is_wanted(find, tank, wanted):
    made = design(tank.edited(("find",), find), wanted)
    if made.limits:
        # The coil given may be too small for the low ranges; then one that would do is named.
        assert find == "padder_and_parallel"
        assert "coil of at least" in made.limits[0].remedy
        return
    for cover in made.ranges:
        assert cover.covers
        assert cover.wanted_low_hz - cover.covers_low_hz >= 0.99 * tank.margin_hz
        assert cover.covers_high_hz - cover.wanted_high_hz >= 0.99 * tank.margin_hz
    assert made.found
    assert made.fixed


@given(
    low=st.floats(2e6, 9e6),
    ratio=st.floats(1.005, 1.12),
    ohm=st.floats(70, 200),
    tuned=st.sampled_from(["parallel", "series"]),
)
def test_exact_parts_cover_exactly_the_range_and_its_margin(low, ratio, ohm, tuned):
    tank = Tank(tuned=tuned, coil_h=ohm / (2 * np.pi * low), capacitors="exact", margin_hz=5e3)
    made = design(tank, (WantedRange("band", low, low * ratio),))
    if made.limits or "CS" not in made.values:
        return
    cover = made.ranges[0]
    assert cover.covers_low_hz == pytest.approx(low - 5e3, rel=1e-6)
    assert cover.covers_high_hz == pytest.approx(low * ratio + 5e3, rel=1e-6)


def test_fixed_parts_come_from_the_series_and_the_trimmer_takes_the_rest():
    made = design(Tank(capacitors="E12"), BAND)
    rows = {row.ref: row for row in made.parts}
    for ref in ("CS", "CP"):
        assert rows[ref].preferred == pytest.approx(preferred(rows[ref].preferred, "E12"))
        assert rows[ref].preferred != pytest.approx(rows[ref].designed, rel=1e-6)
    assert Tank().trimmer.low_f <= made.values["CT"] <= Tank().trimmer.high_f
    cover = made.ranges[0]
    below, above = cover.wanted_low_hz - cover.covers_low_hz, cover.covers_high_hz - cover.wanted_high_hz
    # Both ends have about as much to spare.
    assert below == pytest.approx(above, rel=0.2)


def test_a_capacitor_that_swings_too_little_is_told_with_the_coil_that_would_do():
    tank = Tank(coil_h=0.7e-6)
    made = design(tank, BAND)
    assert "swings too little" in made.limits[0].what
    assert "negative padder" in made.limits[0].what
    assert not made.ranges[0].covers
    # The nearest that can: as much of the range as there is, in its middle.
    cover = made.ranges[0]
    missing = (cover.covers_low_hz - cover.wanted_low_hz, cover.wanted_high_hz - cover.covers_high_hz)
    assert missing[0] == pytest.approx(missing[1], rel=0.2)
    named = parse(made.limits[0].remedy.split("at least ")[1].split(" or")[0], "H")
    assert not design(tank.edited(("coil_h",), 1.01 * named), BAND).limits


def test_no_coil_is_named_that_would_lose_the_upper_end():
    # 20 m and 12 m with 20.48 MHz crystals: a coil for so wide a range leaves no room for the strays.
    both = (WantedRange("20m", 6.13e6, 6.355e6), WantedRange("12m", 4.46e6, 4.51e6))
    tank = Tank(coil_h=2.7e-6).edited(("variable", "high_f"), 100e-12)
    (limit,) = design(tank, both).limits
    assert str(limit).endswith("; take a larger tuning capacitor, or let a capacitor shift one of the bands.")
    wider = design(tank.edited(("variable", "high_f"), 365e-12), both)
    assert wider.limits == ()
    shifted = design(tank, (both[0], WantedRange("12m", 4.46e6, 4.51e6, "parallel")))
    assert shifted.limits == ()


@given(coil=st.floats(0.5e-6, 5e-6), ratio=st.floats(1.02, 1.8), high=st.floats(50e-12, 400e-12))
def test_a_coil_that_is_named_makes_the_tank_tune(coil, ratio, high):
    tank = Tank(coil_h=coil).edited(("variable", "high_f"), high)
    limits = design(tank, (WantedRange("a", 5e6, 5e6 * ratio),)).limits
    if limits and "coil of at least" in limits[0].remedy:
        named = parse(limits[0].remedy.split("at least ")[1].split(" or")[0], "H")
        followed = design(tank.edited(("coil_h",), 1.01 * named), (WantedRange("a", 5e6, 5e6 * ratio),))
        assert followed.limits == ()


def test_a_coil_too_large_for_the_strays_is_told():
    made = design(Tank(coil_h=20e-6), BAND)
    assert any("alone are more than a coil" in each.what for each in made.limits)
    assert any("coil of at most" in each.remedy for each in made.limits)


@pytest.mark.parametrize("shift", ["parallel", "series"])
def test_a_band_above_the_plain_range_is_to_be_the_plain_one(shift):
    up = (WantedRange("a", 3.3e6, 3.5e6), WantedRange("b", 3.7e6, 3.85e6, shift))
    made = design(Tank(coil_h=4.7e-6), up)
    assert any("make b the plain one and shift the lower one" in str(each) for each in made.limits)
    # Followed: the higher band plain, the lower one shifted by a capacitor across the tuning.
    turned = (WantedRange("a", 3.3e6, 3.5e6, "parallel"), WantedRange("b", 3.7e6, 3.85e6))
    again = design(Tank(coil_h=4.7e-6), turned)
    assert again.limits == ()
    assert all(each.covers for each in again.ranges)
    # No capacitor that the wiring itself would be is proposed on the way.
    assert min(row.preferred for row in made.parts if row.kind == "capacitor") >= 1.5e-12


def test_a_series_shift_does_not_lower_a_band():
    down = (WantedRange("a", 3.3e6, 3.5e6), WantedRange("b", 2.0e6, 2.1e6, "series"))
    assert any("shift it by one across the tuning" in str(each) for each in design(Tank(), down).limits)


def test_a_parallel_capacitor_as_built_that_is_too_much_is_told_with_the_value_that_fits():
    built = Tank(coil_h=2.7e-6, as_built={"parallel": 200e-12})
    made = design(built.edited(("compensation_f",), 100e-12), BAND)
    assert not made.ranges[0].covers
    told = next(str(each) for each in made.limits if "parallel capacitor of 200 pF as built" in str(each))
    assert "coil" not in told
    fits = parse(told.rsplit("make it ", 1)[1].rstrip("."), "F")
    again = design(built.edited(("compensation_f",), 100e-12).edited(("as_built",), {"parallel": fits}), BAND)
    assert again.limits == ()
    assert again.ranges[0].covers


@pytest.mark.parametrize("find", ["padder_and_parallel", "coil_and_parallel", "coil_and_padder"])
def test_what_was_designed_stands_beside_what_was_built(find):
    tank = Tank(coil_h=4.7e-6, find=find, padder_f=91e-12, parallel_f=100e-12)
    free = {row.ref: row for row in design(tank, BAND).parts}
    coil = 1.03 * free["L1"].preferred
    built = {row.ref: row for row in design(tank.edited(("as_built",), {"coil": coil}), BAND).parts}
    assert built["L1"].designed == pytest.approx(free["L1"].designed, rel=1e-6)
    assert built["L1"].fitted == coil
    # The padder that this coil wants, or that was given; not what is fitted.
    padded = {row.ref: row for row in design(tank.edited(("as_built",), {"padder": 39e-12}), BAND).parts}
    if find != "coil_and_padder":
        assert padded["CS"].designed == pytest.approx(free["CS"].designed, rel=1e-6)
    assert padded["CS"].fitted == 39e-12


def test_a_series_shift_moves_a_band_up():
    wanted = (WantedRange("a", 3.3e6, 3.5e6), WantedRange("b", 3.545e6, 3.555e6, "series"))
    # What a capacitor in series can take away is at most the open plates' capacitance.
    variable = TuningCapacitor(low_f=40e-12, high_f=130e-12)
    tank = Tank(find="coil_and_parallel", capacitors="exact", margin_hz=2e3, variable=variable)
    made = design(tank, wanted)
    assert made.values["CBb"] > 0
    plain = made.ranges[0]
    shifted = made.ranges[1]
    assert shifted.covers_low_hz > plain.covers_low_hz
    assert shifted.covers
    assert shifted.covers_low_hz == pytest.approx(3.543e6, rel=1e-3)


def test_a_range_through_zero_is_a_sentence():
    made = design(Tank(), (WantedRange("20m", -1e5, 1e5),))
    assert isinstance(made, Unsolved)
    assert "pass zero" in made.reason
    other = design(Tank(), (WantedRange("20m", -1e5, 1e5), *SHIFTED))
    assert [cover.band for cover in other.ranges] == ["a", "b"]
    assert "pass zero" in vfo.dial(other, "20m").reason
    assert isinstance(design(Tank(), ()), Unsolved)


def test_as_built_parts_stay_and_the_others_are_found_around_them():
    built = Tank().edited(("as_built",), {"coil": 3.3e-6})
    made = design(built, BAND)
    assert made.coil_h == 3.3e-6
    assert made.ranges[0].covers
    fixed = Tank().edited(("as_built",), {"parallel": 200e-12, "trimmer": 20e-12})
    told = design(fixed, BAND)
    assert told.values["CP"] == 200e-12
    assert not told.ranges[0].covers
    assert told.limits


def test_kept_parts_no_longer_follow_the_range():
    made = design(Tank(), BAND)
    kept = tank_design.kept(made)
    moved = (WantedRange("20m", 5.41e6, 5.66e6),)
    assert design(kept, moved).values == made.values
    assert not design(kept, moved).ranges[0].covers
    assert design(tank_design.anew(kept), moved).ranges[0].covers


def test_a_typical_tank_covers_ranges_far_apart():
    wanted = (WantedRange("40m", 7.0e6, 7.2e6), WantedRange("80m", 5.2e6, 5.5e6, "parallel"))
    made = design(tank_design.typical(wanted), wanted)
    assert not made.limits
    assert all(cover.covers for cover in made.ranges)


@pytest.mark.parametrize(
    ("ranges", "coil", "high"),
    [
        # 100 ohm are 2.93 uH at 5.435 MHz and 4.68 uH at 3.4 MHz; E12 has 2.7 and 4.7 uH.
        ([(5.31e6, 5.56e6)], 2.7e-6, 100e-12),
        ([(3.3e6, 3.5e6)], 4.7e-6, 100e-12),
        # 2.79 uH for the middle, 5.7 MHz, swing too little; 150 ohm are 4.19 uH.
        ([(5.2e6, 5.3e6), (6.0e6, 6.2e6)], 3.9e-6, 100e-12),
        # No coil of 50 to 200 ohm does with 100 pF; with 200 pF 2.57 uH at 6.2 MHz do.
        ([(7.0e6, 7.2e6), (5.2e6, 5.3e6)], 2.7e-6, 200e-12),
        # Nothing does: what was tried last, 50 ohm at 6.6 MHz.
        ([(4.6e6, 8.6e6)], 1.2e-6, 365e-12),
    ],
)
def test_a_typical_tank_has_the_first_ordinary_parts_that_cover(ranges, coil, high):
    wanted = tuple(WantedRange(f"{n}", *each) for n, each in enumerate(ranges))
    tank = tank_design.typical(wanted)
    assert tank.coil_h == pytest.approx(coil)
    assert tank.variable.high_f == pytest.approx(high)
    assert bool(design(tank, wanted).limits) is (ranges == [(4.6e6, 8.6e6)])


def test_a_typical_tank_minds_the_plain_ranges_and_the_capacitors_own_minimum():
    wanted = (WantedRange("40m", 7.0e6, 7.2e6), WantedRange("80m", 5.2e6, 5.5e6, "parallel"))
    # 100 ohm at 7.1 MHz, where the plain range lies, are 2.24 uH.
    assert tank_design.typical(wanted).coil_h == pytest.approx(2.2e-6)
    stiff = Tank().edited(("variable",), TuningCapacitor(low_f=90e-12, high_f=500e-12))
    assert tank_design.typical(BAND, stiff).variable.high_f == pytest.approx(135e-12)


def test_a_measured_table_is_followed_and_must_make_sense():
    table = points_of("0 100p; 25 70p; 50 48p; 75 28p; 100 10p")
    variable = TuningCapacitor(law="table", table=table)
    assert variable.span_f == (10e-12, 100e-12)
    made = design(Tank(variable=variable), BAND)
    assert made.ranges[0].covers
    f = resonance(made, "20m", np.linspace(0, 1, 101)).f_hz
    assert np.all(np.diff(f) > 0)
    for wrong in ("", "0 100p; 50 120p; 100 10p", "10 100p; 100 10p", "0 100p; what 3; 100 10p"):
        with pytest.raises(DesignError, match="measured table"):
            TuningCapacitor.checked(law="table", table=points_of(wrong))


def test_the_dial_tells_its_worst_turn_and_its_scales_error():
    made = design(Tank(), BAND)
    found = vfo.dial(made, "20m")
    slope = np.gradient(found.f_hz, found.turns)
    inside = (found.f_hz >= 5.31e6) & (found.f_hz <= 5.56e6)
    assert found.worst_hz_per_turn == pytest.approx(slope[inside].max(), rel=0.03)
    assert found.turns_used < found.turns[-1]
    assert found.scale_error_hz[0] == pytest.approx(0, abs=1)
    assert found.scale_error_hz[-1] == pytest.approx(0, abs=1)
    assert found.worst_scale_error_hz > 1e3
    even = vfo.dial(design(Tank(variable=TuningCapacitor(law="straight_frequency")), BAND), "20m")
    assert even.worst_hz_per_turn / even.least_hz_per_turn < found.worst_hz_per_turn / found.least_hz_per_turn


def test_a_band_out_of_cover_has_no_dial_but_a_reason():
    made = design(Tank(coil_h=1e-6).edited(("as_built",), {"parallel": 1e-9, "trimmer": 1e-11}), BAND)
    assert isinstance(vfo.dial(made, "20m"), Unsolved)
    assert isinstance(vfo.figures(made, "20m"), Unsolved)
    assert isinstance(vfo.dial(made, "nowhere"), Unsolved)


def test_warming_up_goes_towards_its_end():
    warmth = Warmth(rise_k=10, time_constant_s=600)
    hz = vfo.warm_up_hz(-100, warmth, np.array([0, 600, 1e5]))
    np.testing.assert_allclose(hz, [0, -1000 * (1 - np.exp(-1)), -1000], atol=1e-6)
    told = vfo.warm_up(-100, warmth)
    assert told.total_hz == -1000
    assert told.first_hz + told.next_hour_hz == pytest.approx(-1000, rel=1e-2)


def test_a_closer_coupling_starts_more_surely():
    loose = design(Tank().edited(("feedback", "coupling_f"), 47e-12), BAND)
    close = design(Tank().edited(("feedback", "coupling_f"), 220e-12), BAND)
    assert vfo.start_margin(loose, "20m", 0.5) < vfo.start_margin(close, "20m", 0.5)


def test_a_vfo_that_does_not_start_is_told_what_makes_it_start():
    starved = Feedback(bias_ohm=2200, choke_h=None, load_ohm=None, coupling_f=100e-12)
    loose = design(Tank(feedback=starved), BAND)
    assert start_up.least_margin(loose) < start_up.SAFE_START
    told = start_up.remedy(loose)
    assert "a choke of 1 mH in series with the bias resistor" in told.words
    stronger = design(told.tank, BAND)
    assert start_up.least_margin(stronger) == pytest.approx(told.margin)
    assert told.margin >= 2.5
    assert stronger.ranges[0].covers
    # A tank that nothing tried can help is told so.
    hopeless = design(Tank(coil_q=1, feedback=starved), BAND)
    assert start_up.remedy(hopeless) is None


def in_documented_order(feedback, other):
    """A choke, a smaller bias resistor, both, closer coupling by E12, that with both, another device, all."""
    choke = {} if feedback.choke_h else {"choke_h": 1e-3}
    lower = [{"bias_ohm": ohm} for ohm in (680.0, 470.0, 330.0, 220.0, 150.0) if ohm < feedback.bias_ohm]
    closer = [
        {"coupling_f": value * 10.0**decade}
        for decade in (-11, -10)
        for value in (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
        if value * 10.0**decade > 1.001 * feedback.coupling_f
    ] + [{"coupling_f": 1e-9}]
    last = lower[-1] if lower else {}
    yield from [choke] if choke else []
    yield from lower
    yield from (choke | each for each in lower)
    yield from closer
    yield from (choke | last | each for each in closer)
    yield {"device": other}
    yield choke | last | {"device": other}


#: How each change is told.
TOLD = {
    "choke_h": "put a choke of 1 mH in series with the bias resistor",
    "bias_ohm": "lower the bias resistor to",
    "coupling_f": "couple closer, with CC",
    "device": "take a 2N3904",
}


@pytest.mark.parametrize(
    ("coil_q", "coupling", "choke", "bias", "kinds"),
    [
        (150, 22e-12, None, 2200.0, ["coupling_f"]),
        (150, 22e-12, None, 150.0, ["choke_h", "coupling_f"]),
        (150, 100e-12, None, 150.0, ["choke_h"]),
        (150, 100e-12, 1e-3, 2200.0, ["bias_ohm"]),
        (150, 100e-12, None, 2200.0, ["choke_h", "bias_ohm"]),
        (60, 22e-12, None, 2200.0, ["coupling_f"]),
        (30, 22e-12, None, 2200.0, ["choke_h", "bias_ohm", "coupling_f"]),
        (12, 100e-12, None, 1000.0, ["device"]),
        (12, 100e-12, 1e-3, 2200.0, ["bias_ohm", "device"]),
        (12, 22e-12, None, 2200.0, []),
    ],
)
def test_the_first_remedy_that_starts_safely_is_advised(coil_q, coupling, choke, bias, kinds):
    asked = Feedback(load_ohm=None, coupling_f=coupling, choke_h=choke, bias_ohm=bias)
    tank = Tank(feedback=asked, coil_q=coil_q)
    made = design(tank, BAND)
    assert start_up.least_margin(made) < 2.5
    found = start_up.remedy(made)
    for changes in in_documented_order(asked, "2n3904"):
        trial = tank
        for name, value in changes.items():
            trial = trial.edited(("feedback", name), value)
        again = design(trial, BAND)
        if all(each.covers for each in again.ranges) and start_up.least_margin(again) >= 2.5:
            break
    else:
        assert (found, kinds) == (None, [])
        return
    assert sorted(changes) == sorted(kinds)
    assert found.tank.feedback.coupling_f == pytest.approx(trial.feedback.coupling_f)
    assert found.tank == trial.edited(("feedback", "coupling_f"), found.tank.feedback.coupling_f)
    assert found.margin == pytest.approx(start_up.least_margin(again))
    words = found.words.split(", and ")
    assert len(words) == len(kinds)
    assert all(each.startswith(TOLD[kind]) for each, kind in zip(words, kinds, strict=True))
    if kinds == ["choke_h", "bias_ohm"]:
        # A J310 of 35 mA and 4 V takes 6.785 mA through 330 ohm.
        assert words[1] == "lower the bias resistor to 330 Ω, for 6.8 mA"


def test_the_least_margin_is_that_of_the_worst_end_of_all_bands():
    made = design(Tank(), SHIFTED)
    every = []
    for band in ("a", "b"):
        low, high = vfo.dial(made, band).wanted_positions
        every += [vfo.start_margin(made, band, low), vfo.start_margin(made, band, high)]
    assert start_up.least_margin(made) == pytest.approx(min(every))
    nothing = Tank(coil_h=1e-6).edited(("as_built",), {"parallel": 1e-9, "trimmer": 1e-11})
    assert start_up.least_margin(design(nothing, BAND)) is None


def test_a_padder_as_built_where_none_could_do_is_told_as_it_is():
    # This coil asks for more than the capacitor swings: there is no other padder to tell beside it.
    made = design(Tank(coil_h=0.7e-6, as_built={"padder": 39e-12}), BAND)
    rows = {row.ref: row for row in made.parts}
    assert (rows["CS"].designed, rows["CS"].fitted) == (39e-12, 39e-12)


def test_figures_gather_both_ends():
    made = design(Tank(), BAND)
    found = vfo.figures(made, "20m")
    low, high = found.dial.wanted_positions
    assert found.drift[0].f_hz == pytest.approx(5.31e6, rel=1e-5)
    assert found.drift[1].f_hz == pytest.approx(5.56e6, rel=1e-5)
    assert found.start == pytest.approx(
        (vfo.start_margin(made, "20m", low), vfo.start_margin(made, "20m", high))
    )
    assert found.worst_drift in found.drift


def test_a_tank_keeps_its_other_parts_when_it_gets_another_coil():
    wanted = (WantedRange("20m", 14.0e6, 14.4e6),)
    mine = Tank(coil_h=30e-6, coil_type="iron_6", tuned="parallel").edited(("feedback", "bias_ohm"), 330.0)
    made = tank_design.typical(wanted, mine)
    assert design(made, wanted).ranges[0].covers
    assert made.coil_h < 3e-6
    assert (made.coil_type, made.feedback) == (mine.coil_type, mine.feedback)


@pytest.mark.parametrize(
    ("coil", "advice"),
    [
        (3e-6, "A coil of 3 µH tunes above 5.290 MHz with any tuning capacitance; take a larger coil"),
        (1.0, "take a smaller coil or a larger tuning capacitor"),
    ],
)
def test_a_series_tuned_coil_out_of_all_proportion_is_told_which_way_to_go(coil, advice):
    """However large a capacitor in series with the coil, the divider holds the frequency up."""
    wanted = (WantedRange("20m", 5.3e6, 5.55e6),)
    tank = Tank(tuned="series", find="coil_and_padder", as_built={"coil": coil}, parallel_f=5e-12)
    limits = " ".join(map(str, tank_design.design(tank, wanted).limits))
    assert advice in limits
    assert "inf" not in limits
    # As advised: the other way lies a coil that does.
    done = tank_design.design(tank.edited(("as_built",), {"coil": 1e-5}), wanted)
    assert not any("coil" in str(sentence) for sentence in done.limits)


def test_a_typical_tank_of_shifted_bands_alone_begins_in_their_middle():
    # 100 ohm in the middle of 5.31 to 5.56 MHz are 2.93 uH.
    shifted = (WantedRange("20m", 5.31e6, 5.56e6, "parallel"),)
    assert tank_design.typical(shifted).coil_h == pytest.approx(2.7e-6)
