"""The tank's parts where nothing but coil and capacitors counts: T(f) = 1/((2 pi f)² L), on paper."""

from types import SimpleNamespace

import numpy as np
import pytest

from core.model.stages.tank import Feedback, Tank, Trimmer
from core.stages.vfo.relations import series_for
from core.stages.vfo.tank import RangeCover, WantedRange, resonance
from core.stages.vfo.tank_design import anew, design, kept
from core.stages.vfo.tank_solution import Solution

NOTHING = 1e-18
TANK = Tank(
    coil_h=6e-6,
    margin_hz=0,
    coil_self_f=NOTHING,
    stray_f=NOTHING,
    capacitors="exact",
    trimmer=Trimmer(low_f=NOTHING, high_f=2 * NOTHING),
    feedback=Feedback(coupling_f=NOTHING, input_f=NOTHING, drain_f=NOTHING),
)
PLAIN = WantedRange("a", 5e6, 5.5e6)


def across(f_hz, coil_h=6e-6):
    return 1 / ((2 * np.pi * f_hz) ** 2 * coil_h)


@pytest.mark.parametrize(
    ("parallel_f", "wanted_f", "room"),
    [(None, 34e-12, True), (None, 32e-12, False), (2e-12, 34e-12, False), (2e-12, 36e-12, True)],
)
def test_a_larger_coil_must_still_tune_the_upper_end(parallel_f, wanted_f, room):
    # 10 pF of the capacitor when open, 20 pF of strays and 3 pF of the trimmer are 33 pF in any case.
    asked = []
    solution = SimpleNamespace(
        bench=SimpleNamespace(
            open_f=10e-12, rest=20e-12, needed_f=lambda *of: asked.append(of) or np.float64(wanted_f)
        ),
        built={"parallel": parallel_f},
        tank=SimpleNamespace(trimmer=SimpleNamespace(low_f=3e-12)),
        base=SimpleNamespace(high_hz=5.5e6),
    )
    assert Solution._leaves_room(solution, 7e-6) is room
    assert asked == [(5.5e6, 7e-6)]


@pytest.mark.parametrize(
    ("target", "capacitance", "series"),
    [
        (5.0, 10.0, 10.0),
        (2.0, 10.0, 2.5),
        (10.0, 10.0, np.inf),
        (12.0, 10.0, np.inf),
        (0.0, 1.0, 0.0),
        (-1.0, 1.0, 0.0),
    ],
)
def test_what_in_series_makes_a_capacitance(target, capacitance, series):
    assert series_for(target, capacitance) == pytest.approx(series)


def test_a_coil_found_for_the_padder_given():
    # 100 to 10 pF through 61.03 pF are 37.90 to 8.592 pF: the swing of 29.31 pF that 6 uH want.
    tank = TANK.edited(("find",), "coil_and_parallel").edited(("padder_f",), 61.0304e-12)
    made = design(tank, (PLAIN,))
    assert made.coil_h == pytest.approx(6e-6, rel=1e-5)
    assert made.values["CP"] == pytest.approx(130.9687e-12, rel=1e-4)
    assert made.fixed == ("tuning capacitor 10 pF to 100 pF", "padder 61.03 pF")
    assert made.found == ("coil 6 µH", "parallel capacitor 131 pF")


def test_a_coil_found_for_the_parallel_capacitor_given():
    tank = TANK.edited(("find",), "coil_and_padder").edited(("parallel_f",), 130.9687e-12)
    made = design(tank, (PLAIN,))
    assert made.coil_h == pytest.approx(6e-6, rel=1e-4)
    assert made.values["CS"] == pytest.approx(61.03e-12, rel=1e-3)
    assert made.fixed == ("tuning capacitor 10 pF to 100 pF", "parallel capacitor 131 pF")
    assert [each.split()[0] for each in made.found] == ["coil", "padder"]


def test_padder_and_parallel_capacitor_found_for_the_coil_given():
    made = design(TANK, (PLAIN,))
    assert made.fixed == ("tuning capacitor 10 pF to 100 pF", "coil 6 µH")
    assert made.found == ("padder 61.03 pF", "parallel capacitor 131 pF")
    # With margin the range is wider by it at both ends.
    wide = design(TANK.edited(("margin_hz",), 20e3), (PLAIN,))
    again = design(TANK, (WantedRange("a", 4.98e6, 5.52e6),))
    assert wide.values == pytest.approx(again.values)
    assert wide.ranges[0].wanted_low_hz == 5e6


@pytest.mark.parametrize("whole_hz", [(5e6, 5.3e6), (5.1e6, 5.5e6)])
def test_plain_bands_share_one_range(whole_hz):
    both = (WantedRange("a", *whole_hz), WantedRange("b", 5.0e6, 5.05e6), WantedRange("c", 5.4e6, 5.5e6))
    assert design(TANK, both).values == pytest.approx(design(TANK, (PLAIN,)).values)


def test_a_band_shifted_across_the_tuning_has_as_many_hertz_to_spare_at_both_ends():
    lower = WantedRange("b", 4.2e6, 4.3e6, "parallel")
    made = design(TANK, (PLAIN, lower))
    meshed, opened = (1 / (1 / c + 1 / 61.0304e-12) for c in (100e-12, 10e-12))
    total = made.values["CBb"] + made.values["CP"] + made.values["CTb"] + made.values["CT"]
    f = [1 / (2 * np.pi * np.sqrt(6e-6 * (c + total))) for c in (meshed, opened)]
    cover = made.range_of("b")
    assert (cover.covers_low_hz, cover.covers_high_hz) == pytest.approx(f, rel=1e-5)
    # By the slope at either end, which bends over so much of a swing.
    assert 4.2e6 - f[0] == pytest.approx(f[1] - 4.3e6, rel=0.07)
    assert made.found[-1].startswith("band shift, b capacitor ")
    # The plain band is as it was.
    assert made.range_of("a").covers_low_hz == pytest.approx(5e6, rel=1e-6)


def test_a_trimmer_that_is_too_small_is_told_with_what_it_would_have_to_be():
    # 131.0 pF are wanted and 50 pF are fitted: 80.97 pF are left for a trimmer of 30 pF.
    tank = TANK.edited(("trimmer",), Trimmer(low_f=3e-12, high_f=30e-12)).edited(
        ("as_built",), {"parallel": 50e-12}
    )
    made = design(tank, (PLAIN,))
    assert str(made.limits[0]) == (
        "The trimmer CT would have to be 81 pF and has at most 30 pF; take a larger parallel capacitor or "
        "trimmer."
    )
    assert made.values["CT"] == pytest.approx(30e-12)
    row = next(row for row in made.parts if row.ref == "CT")
    assert row.designed == pytest.approx(80.97e-12, rel=1e-3)
    assert row.note == "trimmer 3 pF to 30 pF, set to this"
    # Fitted as built it stays what it is, and the range tells what that means.
    fixed = design(tank.edited(("as_built",), {"parallel": 50e-12, "trimmer": 20e-12}), (PLAIN,))
    assert not any("would have to be" in str(each) for each in fixed.limits)


def test_two_in_parallel_where_one_would_miss_the_trimmer():
    # 130.97 pF less the middle of 2 to 6 pF; E12's 120 pF is 7 pF too small, 6.8 pF beside it make it good.
    tank = TANK.edited(("trimmer",), Trimmer(low_f=2e-12, high_f=6e-12)).edited(("capacitors",), "E12")
    tank = tank.edited(("as_built",), {"padder": 61.2e-12})
    made = design(tank, (PLAIN,))
    row = next(row for row in made.parts if row.ref == "CP")
    assert row.designed == pytest.approx(126.97e-12, abs=0.1e-12)
    assert row.preferred == pytest.approx(126.8e-12)
    assert row.note == "parallel, 120 pF and 6.8 pF in parallel"
    assert made.values["CT"] == pytest.approx(4.17e-12, abs=0.1e-12)
    assert made.limits == ()
    # A trimmer of wider reach makes up for it by itself.
    wide = design(tank.edited(("trimmer",), Trimmer(low_f=2e-12, high_f=24e-12)), (PLAIN,))
    assert wide.values["CP"] == pytest.approx(120e-12)


def test_a_trimmer_alone_where_that_is_enough():
    tank = TANK.edited(("trimmer",), Trimmer(low_f=20e-12, high_f=140e-12))
    made = design(tank, (PLAIN,))
    assert "CP" not in made.values
    assert made.values["CT"] == pytest.approx(130.9687e-12, rel=1e-4)
    assert made.limits == ()


@pytest.mark.parametrize(
    ("low", "high", "covers"),
    [(5e6, 5.5e6, True), (5.001e6, 5.5e6, False), (5e6, 5.499e6, False), (5e6 + 1e-3, 5.5e6 - 1e-3, True)],
)
def test_what_covers_a_range(low, high, covers):
    cover = RangeCover(
        band="a",
        wanted_low_hz=5e6,
        wanted_high_hz=5.5e6,
        covers_low_hz=low,
        covers_high_hz=high,
        shift="none",
    )
    assert cover.covers is covers


def test_a_range_that_the_parts_as_built_do_not_reach_is_told_with_both():
    tank = TANK.edited(("as_built",), {"parallel": 131e-12, "trimmer": NOTHING, "padder": 40e-12})
    made = design(tank, (PLAIN,))
    meshed, opened = (131e-12 + 1 / (1 / c + 1 / 40e-12) for c in (100e-12, 10e-12))
    low, high = (1 / (2 * np.pi * np.sqrt(6e-6 * c)) / 1e6 for c in (meshed, opened))
    assert f"On a these parts tune {low:.3f} to {high:.3f} MHz where 5.000 to 5.500 MHz" in str(
        made.limits[0]
    )
    assert resonance(made, "a", np.array([0.0, 1.0])).f_hz == pytest.approx([low * 1e6, high * 1e6], rel=1e-6)
    assert made.limits[0].tells_range
    assert kept(made).as_built != tank.as_built
    assert anew(kept(made)).as_built == ()


def test_a_swing_that_is_too_little_is_told_to_three_digits_with_the_coil_that_would_do():
    # 101.26 less 10 pF are 91.26 pF; 4.0 to 5.5 MHz want 263.86 less 139.56 pF. A coil of 8.42 uH wants
    # 88.5 pF, 97 % of what there is.
    made = design(TANK.edited(("variable", "high_f"), 101.26e-12), (WantedRange("a", 4e6, 5.5e6),))
    told = next(str(each) for each in made.limits if "swings" in str(each))
    assert told.startswith("The tuning capacitor swings too little: 91.3 pF where 124 pF is wanted, which ")
    assert "take a coil of at least 8.42 µH or a larger tuning capacitor" in told


def test_a_shift_in_series_that_cannot_reach_both_ends_lies_midway():
    # Beside the 130.97 pF across, 5.3 MHz wants 19.32 pF more, 5.58 MHz 4.62 pF: in series with the meshed
    # 100 pF the first takes 23.9 pF at least, with the open 10 pF the second 8.6 pF at most. Midway, by
    # ratio, are 14.3 pF, and so are 18.7 pF with the padder of 61.03 pF.
    wanted = WantedRange("b", 5.3e6, 5.58e6, "series")
    made = design(TANK, (PLAIN, wanted))
    least, most = (
        1 / (1 / (across(f) - 130.9687e-12) - 1 / plates)
        for f, plates in ((5.3e6, 100e-12), (5.58e6, 10e-12))
    )
    assert (least, most) == pytest.approx((23.95e-12, 8.58e-12), rel=1e-3)
    alone = 1 / (1 / np.sqrt(least * most) - 1 / 61.0304e-12)
    assert made.values["CBb"] == pytest.approx(alone, rel=1e-3)
    # Where both ends are within reach, it is what the lower end wants, and the upper one has room.
    easy = design(TANK, (PLAIN, WantedRange("b", 5.3e6, 5.4e6, "series")))
    assert easy.values["CBb"] == pytest.approx(1 / (1 / least - 1 / 61.0304e-12), rel=1e-3)
    assert easy.range_of("b").covers
    # Where nothing reaches the upper end, at least the lower one is reached.
    half = design(TANK, (PLAIN, WantedRange("b", 5.3e6, 5.75e6, "series")))
    assert half.values["CBb"] == pytest.approx(easy.values["CBb"])
    assert half.range_of("b").covers_low_hz == pytest.approx(5.3e6, rel=1e-5)
    assert not half.range_of("b").covers
