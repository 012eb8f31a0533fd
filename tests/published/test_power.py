"""Power stages against a circuit simulator (ngspice 39, run once), closed forms and tables.

The stage of the tables below: a square-law MOSFET of 0.30 A/V² and 3.5 V, 13.8 V, 5 W at 14 MHz, harmonics
shorted by a tank of Q 8 between drain and supply.
"""

from math import pi, radians, sqrt

import numpy as np
import pytest

from core.circuits.circuit import SquareLaw
from core.circuits.power.heat import Chain
from core.circuits.power.law import Law
from core.circuits.power.load_line import (
    at_levels,
    drive_for,
    driven,
    ideal_efficiency,
    ideal_harmonic_dbc,
    load_for,
    most_power,
    two_tone,
)
from core.circuits.power.mismatch import scan, worst_heat_w

LAW = Law(SquareLaw(slope_a_v2=0.30, threshold_v=3.5))
SUPPLY, POWER = 13.8, 5.0


class FixedKnee:
    """A law whose knee is given, as hand calculations have it."""

    def knee_v(self, peak_a):
        return np.full(np.shape(peak_a), 1.5)


def at_idle(idle_a):
    load, _ = load_for(SUPPLY, POWER, LAW)
    bias_v = LAW.control_v(idle_a)
    return load, bias_v, drive_for(LAW, bias_v, sqrt(2 * POWER / load))


@pytest.mark.parametrize(("watt", "ohm"), [(5, 15.13), (10, 7.565), (20, 3.782), (100, 0.756)])
def test_the_load_with_a_knee_that_is_given(watt, ohm):
    # RL = (Vdd − Vk)²/2P; 13.8 V and 1.5 V.
    assert load_for(SUPPLY, watt, FixedKnee())[0] == pytest.approx(ohm, abs=6e-4 if ohm < 10 else 6e-3)
    most, knee = most_power(SUPPLY, 1 / load_for(SUPPLY, watt, FixedKnee())[0], FixedKnee())
    assert float(most) == pytest.approx(watt, rel=1e-9)
    assert float(knee) == pytest.approx(1.5)


@pytest.mark.parametrize(("ohm", "watt"), [(50, 6.05), (12.5, 24.2), (50 / 9, 54.5), (3.125, 96.8)])
def test_push_pull_behind_a_transformer_of_whole_ratios(ohm, watt):
    # Drain to drain R_dd = 2 (Vdd − Vk)²/P, so that each of two halves sees half of it.
    each, _ = most_power(SUPPLY, 2 / ohm, FixedKnee())
    assert 2 * float(each) == pytest.approx(watt, rel=1e-3)


def test_the_knee_follows_from_the_device():
    load, knee = load_for(SUPPLY, POWER, LAW)
    assert knee == pytest.approx(2.4204, abs=5e-5)
    assert load == pytest.approx(12.9495, abs=5e-5)
    fundamental = sqrt(2 * POWER / load)
    assert fundamental == pytest.approx(0.8788, abs=5e-5)
    assert float(LAW.knee_v(2 * fundamental)) == pytest.approx(knee, rel=1e-6)
    # So much power that the knee eats the supply has no load.
    assert np.isnan(load_for(SUPPLY, 50.0, LAW)[0])


def test_ideal_class_b_at_that_load():
    load, knee = load_for(SUPPLY, POWER, LAW)
    fundamental = sqrt(2 * POWER / load)
    supply_w = SUPPLY * 2 * fundamental / pi
    assert supply_w == pytest.approx(7.720, abs=2e-3)
    assert POWER / supply_w == pytest.approx(0.648, abs=5e-4)
    # π/4 times the swing over the supply, and as much again on two tones.
    share = (SUPPLY - knee) / SUPPLY
    assert POWER / supply_w == pytest.approx(pi / 4 * share, rel=1e-6)
    assert POWER / 2 / (supply_w * 2 / pi) == pytest.approx((pi / 4) ** 2 * share, rel=1e-6)
    assert 2 * SUPPLY**2 / (pi**2 * load) == pytest.approx(2.980, abs=5e-4)


#: Idle mA, gate's bias V, drive V; a carrier: supply A, W, efficiency, heat W; two tones: output, supply W,
#: efficiency, heat W, third and fifth order dBc; harmonics 2 to 5 of the current, dBc. Numerical integration
#: of the square law on a coarse grid.
ON_THE_LINE = [
    (20, 3.758, 2.322, 0.5290, 7.300, 0.685, 2.300, 2.004, 3.946, 0.508, 1.942, -16.9, -35.1, -5.3, -16.4),
    (50, 3.908, 2.143, 0.5375, 7.417, 0.674, 2.417, 2.091, 4.233, 0.494, 2.143, -19.3, -40.6, -5.7, -18.3),
    (100, 4.077, 1.941, 0.5496, 7.584, 0.659, 2.584, 2.199, 4.642, 0.474, 2.443, -22.9, -61.5, -6.4, -21.3),
    (200, 4.316, 1.655, 0.5741, 7.922, 0.631, 2.922, 2.357, 5.427, 0.434, 3.070, -31.4, -46.1, -7.8, -28.1),
    (400, 4.655, 1.268, 0.6407, 8.842, 0.565, 3.842, 2.498, 7.183, 0.348, 4.685, -76.5, -78.1, -11.3, -65.1),
]


@pytest.mark.parametrize("row", ON_THE_LINE, ids=lambda row: f"{row[0]} mA")
def test_a_square_law_on_its_load_line(row):
    idle, bias, drive, ampere, taken, share, heat, out2, taken2, share2, heat2, third, fifth, *harmonics = row
    load, bias_v, drive_v = at_idle(idle / 1e3)
    assert bias_v == pytest.approx(bias, abs=6e-4)
    assert drive_v == pytest.approx(drive, abs=6e-4)
    found = driven(LAW, bias_v, [drive_v])
    assert float(found.mean_a[0]) == pytest.approx(ampere, abs=1e-4)
    out, supplied = at_levels(LAW, bias_v, np.array([drive_v]), SUPPLY, load)
    assert float(out[0]) == pytest.approx(POWER, rel=1e-9)
    assert float(supplied[0]) == pytest.approx(taken, rel=1.5e-4)
    assert float(out[0] / supplied[0]) == pytest.approx(share, abs=6e-4)
    assert float(supplied[0] - out[0]) == pytest.approx(heat, abs=1e-3)
    tones = two_tone(LAW, bias_v, drive_v, SUPPLY, load)
    assert tones.level.output_w == pytest.approx(out2, rel=1e-3)
    assert tones.level.supply_w == pytest.approx(taken2, rel=1e-3)
    assert tones.level.efficiency == pytest.approx(share2, abs=1e-3)
    assert tones.level.heat_w == pytest.approx(heat2, abs=2e-3)
    assert tones.third_dbc == pytest.approx(third, abs=0.06 if third > -40 else 0.1)
    assert tones.fifth_dbc == pytest.approx(fifth, abs=0.3)
    told = 20 * np.log10(np.abs(found.harmonics_a[1:3, 0] / found.harmonics_a[0, 0]))
    assert list(told) == pytest.approx(harmonics, abs=0.1)


def test_two_tones_against_a_transient_simulation():
    # ngspice, 100 mA, 13.95 and 14.05 MHz: 2.194 W out, 4.642 W in, third order −23.1, fifth −61.7 dBc.
    load, bias_v, drive_v = at_idle(0.1)
    tones = two_tone(LAW, bias_v, drive_v, SUPPLY, load)
    assert tones.level.output_w == pytest.approx(2.194, rel=3e-3)
    assert tones.level.supply_w == pytest.approx(4.642, rel=1e-3)
    assert tones.third_dbc == pytest.approx(-23.1, abs=0.2)
    assert tones.fifth_dbc == pytest.approx(-61.7, abs=0.3)


#: Phase of the reflection of 0.5, output, supply and heat W, highest voltage: ngspice at the drive of 100 mA.
MISMATCHED = [
    (0, 2.629, 3.954, 1.325, 28.1),
    (45, 3.068, 5.036, 1.968, 28.5),
    (90, 3.014, 7.585, 4.571, 25.6),
    (135, 1.920, 7.585, 5.665, 20.2),
    (180, 1.667, 7.585, 5.918, 17.6),
    (225, 1.913, 7.585, 5.672, 19.5),
    (270, 2.988, 7.585, 4.597, 24.8),
    (315, 2.807, 5.048, 2.241, 27.3),
]


def test_a_mismatch_of_three_to_one_at_any_phase():
    load, bias_v, drive_v = at_idle(0.1)
    phases = radians(1) * np.array([row[0] for row in MISMATCHED])
    found = scan(LAW, bias_v, drive_v, SUPPLY, load, 0.5, phases)
    for n, (_, out, taken, heat, volt) in enumerate(MISMATCHED):
        # The tank of Q 8 leaves some harmonics, of which nothing is known here.
        assert float(found.output_w[n]) == pytest.approx(out, rel=0.07)
        assert float(found.supply_w[n]) == pytest.approx(taken, rel=5e-3)
        assert float(found.heat_w[n]) == pytest.approx(heat, abs=0.17)
        assert float(found.peak_v[n]) == pytest.approx(volt, rel=0.03)
    # Where the resistance is low the stage is a source of current: exact to 0.02 W.
    low = {row[0]: n for n, row in enumerate(MISMATCHED) if 90 <= row[0] <= 270}
    for phase, n in low.items():
        wanted = next(row[3] for row in MISMATCHED if row[0] == phase)
        assert float(found.heat_w[n]) == pytest.approx(wanted, abs=0.021)
    worst = worst_heat_w(7.585, 5.0, 0.5)
    assert worst == pytest.approx(5.918, abs=5e-4)
    assert float(found.heat_w.max()) == pytest.approx(worst, abs=2e-3)


def test_no_mismatch_is_the_load_itself():
    load, bias_v, drive_v = at_idle(0.1)
    found = scan(LAW, bias_v, drive_v, SUPPLY, load, 0.0, [0.0, 1.0])
    # The swing just reaches the knee, which takes a hair of the current.
    assert list(found.output_w) == pytest.approx([5.0, 5.0], rel=2e-3)
    assert list(found.load_ohm) == pytest.approx([load, load])


#: Conduction angle in degrees, efficiency in per cent, second and third harmonic in dBc.
BY_ANGLE = [
    (360, 50.0, None, None),
    (270, 60.18, -21.7, -24.7),
    (240, 66.05, -15.3, -21.3),
    (210, 72.30, -10.8, -22.5),
    (180, 78.54, -7.44, None),
    (150, 84.43, -4.9, -16.7),
    (120, 89.68, -3.0, -9.1),
    (90, 94.04, -1.7, -4.7),
]


@pytest.mark.parametrize(("degrees", "percent", "second", "third"), BY_ANGLE)
def test_classes_by_conduction_angle(degrees, percent, second, third):
    angle = radians(degrees)
    assert 100 * float(ideal_efficiency(angle)) == pytest.approx(percent, abs=6e-3)
    for number, dbc in ((2, second), (3, third)):
        if dbc is not None:
            assert float(ideal_harmonic_dbc(angle, number)) == pytest.approx(dbc, abs=0.06)
    if degrees == 180:
        # A half wave has no third.
        assert float(ideal_harmonic_dbc(angle, 3)) < -100


def chain(**fields):
    given = {"junction_k_w": 3.5, "insulator_k_w": 0.7, "sink_k_w": 8.0, "ambient_c": 40.0, "sink_kg": 0.1}
    return Chain(**given | fields)


@pytest.mark.parametrize(
    ("watt", "sink", "junction"),
    [(2.586, 60.7, 71.5), (2.448, 59.6, 69.9), (2.98, 63.8, 76.4), (5.918, 87.3, 112.2)],
)
def test_a_chain_of_thermal_resistances(watt, sink, junction):
    found = chain()
    assert float(found.sink_c(watt)) == pytest.approx(sink, abs=0.06)
    assert float(found.junction_c(watt)) == pytest.approx(junction, abs=0.06)


def test_ten_watts_at_forty_five_per_cent():
    heat = 10 / 0.45 - 10
    found = chain(junction_k_w=2.2, insulator_k_w=0.5, sink_k_w=3.0)
    assert float(found.sink_c(heat)) == pytest.approx(76.7, abs=0.05)
    assert float(found.junction_c(heat)) == pytest.approx(109.7, abs=0.05)
    # The sink wanted for those temperatures is that sink.
    assert found.sink_wanted_k_w(heat, 109.67) == pytest.approx(3.0, abs=1e-3)
    assert found.sink_wanted_k_w(100 * heat, 150.0) < 0
