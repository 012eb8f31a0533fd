"""Crystal oscillators against textbook formulas, tables, and a simulator's runs over time.

The runs are those of the netlists that `copperclad netlist` writes, by ngspice 39, trapezoidal with 200 steps
a turn, whose turns last longer by (w h)²/12; counted are 1000 turns after amplitude has settled.
"""

from math import log10, pi

import numpy as np
import pytest

from core.circuits.active.amplitude import Room, _bessel, swing
from core.circuits.active.oscillation import oscillates_at, rest_of
from core.circuits.circuit import Branch, Circuit, Part, Port, Rail, SquareLaw, Transistor
from core.model.stages.filters import Crystal
from core.model.stages.oscillators import CrystalCircuit
from core.stages.crystal_oscillator.asked import Asked, Place
from core.stages.crystal_oscillator.design import design

FS, LM, C0, Q = 9e6, 16e-3, 3.5e-12, 75e3
CM = 1 / ((2 * pi * FS) ** 2 * LM)


def colpitts(upper_f, lower_f, loss_ohm, *, c0=C0):
    """A field-effect transistor without capacitances, its divider, and a crystal from gate to ground."""
    device = SquareLaw(slope_a_v2=2e-3, threshold_v=-3.0)
    crystal = Part("X1", "crystal", FS, 2 * pi * FS * LM / loss_ohm, LM, c0)
    branches = (
        Branch(Transistor("Q1", device), ("supply", "gate", "source")),
        Branch(Part("C1", "capacitor", upper_f), ("gate", "source")),
        Branch(Part("C2", "capacitor", lower_f), ("source", "0")),
        Branch(Part("RG", "resistor", 1e9), ("gate", "0")),
        Branch(Part("LC", "inductor", 1.0), ("source", "below")),
        Branch(Part("RS", "resistor", 1e3), ("below", "0")),
        Branch(crystal, ("gate", "0")),
    )
    circuit = Circuit(branches, (Port("source", 1e9),), (Rail("supply", 10.0),))
    rest, _ = rest_of(circuit, "Q1", (crystal,), ("gate", "0"), FS)
    return rest, crystal


@pytest.mark.parametrize(("upper_f", "lower_f"), [(200e-12, 200e-12), (68e-12, 150e-12), (470e-12, 100e-12)])
def test_it_lies_where_its_load_capacitance_puts_it(upper_f, lower_f):
    # fL = fs (1 + Cm/(2 (C0 + CL))), the crystal trade's formula; exact is the root of 1 + Cm/(C0 + CL).
    rest, crystal = colpitts(upper_f, lower_f, 5.0)
    load = upper_f * lower_f / (upper_f + lower_f)
    (found,), _ = oscillates_at(rest, (crystal,), (FS * 0.999, FS * 1.002))
    assert found == pytest.approx(FS * np.sqrt(1 + CM / (C0 + load)), abs=0.2)
    assert found == pytest.approx(FS * (1 + CM / (2 * (C0 + load))), abs=0.5)
    assert found - FS > 500


@pytest.mark.parametrize("loss_ohm", [10.0, 40.0])
def test_it_starts_with_the_transconductance_of_the_textbooks(loss_ohm):
    # gm > w² C1 C2 R; R is the crystal's loss at its load, Rm (1 + C0/CL)².
    upper_f, lower_f = 150e-12, 220e-12
    rest, crystal = colpitts(upper_f, lower_f, loss_ohm)
    load = upper_f * lower_f / (upper_f + lower_f)
    (f,), (needed,) = oscillates_at(rest, (crystal,), (FS * 0.999, FS * 1.002))
    told = (2 * pi * f) ** 2 * upper_f * lower_f * loss_ohm * (1 + C0 / load) ** 2
    assert needed == pytest.approx(told, rel=2e-3)


def test_the_large_signal_transconductance_of_a_junction():
    # 2 I1(x)/(x I0(x)) with Bessel functions of M. Abramowitz, I. Stegun, Handbook of Mathematical Functions
    # (1964), table 9.8.
    x, _, over = _bessel()
    for at, i0, i1 in ((1.0, 1.2660658778, 0.5651591040), (5.0, 27.2398718236, 24.3356421424)):
        assert np.interp(at, x, over) == pytest.approx(2 * i1 / (at * i0), rel=1e-4)


def test_a_square_law_that_always_conducts_swings_until_its_mean_is_low_enough():
    # Mean k (u² + V²/2) and Gm 2 k u, by trigonometry; the bias resistor holds u + R I.
    device, at_a, ohm = SquareLaw(slope_a_v2=2e-3, threshold_v=-3.0), 2e-3, 800.0
    found = swing(device, at_a, 0.9 * 2 * np.sqrt(2e-3 * at_a), ohm)
    u0 = np.sqrt(at_a / 2e-3)
    u = 0.9 * u0
    assert found.mean_a == pytest.approx(at_a + (u0 - u) / ohm, rel=1e-9)
    assert 2e-3 * (u * u + found.control_v**2 / 2) == pytest.approx(found.mean_a, rel=1e-9)


RUNS = {
    # What is asked and fitted; f [Hz] by 1000 turns [s], and peak to peak [V] across 50 ohm.
    "9.0025 MHz, trimmer alone": (
        {
            "fs_hz": 9e6,
            "wanted_hz": 9.0025e6,
            "crystal": Crystal(
                motional_inductance_h=16e-3, holder_capacitance_f=3.5e-12, quality_factor=75e3
            ),
        },
        {
            "bias_upper:1": 51e3,
            "bias_lower:1": 33e3,
            "feedback_upper": 180e-12,
            "feedback_lower": 220e-12,
            "bias_emitter:1": 3300.0,
            "coupling:1": 1e-9,
            "bias_upper:2": 5600.0,
            "bias_lower:2": 2200.0,
            "degeneration": 18.0,
            "bias_emitter:2": 36.0,
            "choke:2": 33e-6,
            "trimmer": 44.3801881185356e-12,
        },
        1.110894e-4,
        1.553,
    ),
    "10.70025 MHz, coil, resistor across it, and trimmer": (
        {
            "fs_hz": 10.7e6,
            "wanted_hz": 10.7002507e6,
            "crystal": Crystal(
                motional_inductance_h=11.9e-3, holder_capacitance_f=3.5e-12, quality_factor=30e3
            ),
        },
        {
            "bias_upper:1": 33e3,
            "bias_lower:1": 22e3,
            "feedback_upper": 120e-12,
            "feedback_lower": 150e-12,
            "bias_emitter:1": 2200.0,
            "coupling:1": 680e-12,
            "bias_upper:2": 5600.0,
            "bias_lower:2": 2200.0,
            "degeneration": 18.0,
            "bias_emitter:2": 36.0,
            "choke:2": 33e-6,
            "coil": 7.5908140595399146e-6,
            "damping_resistor": 20e3,
            "trimmer": 42.09997231228093e-12,
        },
        9.346338e-5,
        1.586,
    ),
    "6.144 MHz, a helper": (
        {
            "fs_hz": 6.144e6 / (1 + 18.01350253125e-15 / (2 * 24e-12)),
            "wanted_hz": 6.144e6,
            "crystal": Crystal(
                motional_inductance_h=37.27909357545471e-3, holder_capacitance_f=4e-12, quality_factor=60e3
            ),
        },
        {
            "bias_upper:1": 56e3,
            "bias_lower:1": 36e3,
            "feedback_upper": 180e-12,
            "feedback_lower": 220e-12,
            "bias_emitter:1": 3600.0,
            "coupling:1": 1.5e-9,
            "bias_upper:2": 13e3,
            "bias_lower:2": 4700.0,
            "degeneration": 56.0,
            "bias_emitter:2": 62.0,
            "choke:2": 47e-6,
            "trimmer": 24.677690241526545e-12,
        },
        1.627738e-4,
        0.7377,
    ),
}


@pytest.mark.parametrize("name", RUNS)
def test_a_simulator_agrees(name):
    asked, built, turns_s, peak_to_peak_v = RUNS[name]
    made = design(
        Asked(
            circuit=CrystalCircuit(as_built=built),
            crystal=asked["crystal"],
            fs_hz=asked["fs_hz"],
            places=(Place(which=None, wanted_hz=asked["wanted_hz"]),),
            trimmer_f=(5e-12, 60e-12),
            load_f=100e-12,
            level_dbm=7.0,
        )
    )
    (found,) = made.places
    counted = 1e3 / turns_s * (1 + (2 * pi / 200) ** 2 / 12)
    # Seven digits of the turns, and what harmonics do, which this leaves out.
    assert found.f_hz == pytest.approx(counted, abs=12)
    # An estimate: harmonics count in the simulator's peaks.
    level = 20 * log10(peak_to_peak_v / 2 / np.sqrt(2 * 50 * 1e-3))
    assert found.level_dbm == pytest.approx(level, abs=1.5)


#: Field-effect transistors whose source swings up to the drain, without and with a gate that conducts: what
#: is fitted, and peak to peak [V] across 50 ohm in the simulator. The crystal stores a twentieth of what one
#: does, so that a run settles soon.
SOFT = Crystal(motional_inductance_h=0.9014e-3, holder_capacitance_f=3.5e-12, quality_factor=3750.0)
FET_RUNS = {
    "J310 at 8 V": (
        {"device": "j310", "supply_v": 8.0},
        {
            "feedback_lower": 39e-12,
            "feedback_upper": 33e-12,
            "bias_source": 3000.0,
            "coupling:1": 1e-9,
            "choke:1": 330e-6,
            "choke:2": 33e-6,
            "degeneration": 33.0,
            "bias_emitter:2": 20.0,
            "bias_lower:2": 2000.0,
            "bias_upper:2": 5600.0,
            "damping_resistor": 36e3,
            "input_resistor": 3900.0,
            "trimmer": 42.13007238125294e-12,
            "coil": 16.583678708548815e-6,
        },
        1.387,
    ),
    "2N3819 at 12 V": (
        {"device": "2n3819", "supply_v": 12.0},
        {
            "feedback_lower": 39e-12,
            "feedback_upper": 39e-12,
            "bias_source": 1300.0,
            "coupling:1": 1e-9,
            "choke:1": 330e-6,
            "choke:2": 33e-6,
            "degeneration": 47.0,
            "bias_emitter:2": 33.0,
            "bias_lower:2": 2700.0,
            "bias_upper:2": 9100.0,
            "damping_resistor": 36e3,
            "input_resistor": 9100.0,
            "trimmer": 42.11861905228675e-12,
            "coil": 16.13971496532354e-6,
        },
        1.378,
    ),
}


@pytest.mark.parametrize("name", FET_RUNS)
def test_a_simulator_agrees_how_far_a_field_effect_transistor_swings(name):
    asked, built, peak_to_peak_v = FET_RUNS[name]
    made = design(
        Asked(
            circuit=CrystalCircuit(**asked, as_built=built),
            crystal=SOFT,
            fs_hz=9e6,
            places=(Place(which=None, wanted_hz=9.0252e6),),
            trimmer_f=(5e-12, 60e-12),
            load_f=100e-12,
            level_dbm=7.0,
        )
    )
    (found,) = made.places
    level = 20 * log10(peak_to_peak_v / 2 / np.sqrt(2 * 50 * 1e-3))
    # An estimate: harmonics of the source's voltage are left out, which bring it to its drain sooner.
    assert found.level_dbm == pytest.approx(level, abs=1.0)


def test_a_source_that_meets_its_drain_swings_no_further():
    # The law of a channel alike at both ends, integrated over a turn: k ((vgs − vt)² − (vgd − vt)²).
    device, at_a, ohm, needed = SquareLaw(slope_a_v2=2e-3, threshold_v=-4.0), 1e-3, 3e3, 0.6e-3
    room = Room(over_common_v=4.6, over_control_v=7.6, common_times=1.0, control_times=2.0)
    found = swing(device, at_a, needed, ohm, room)
    turn = np.cos(2 * pi * (np.arange(4096) + 0.5) / 4096)
    bias = np.sqrt(at_a / 2e-3) - ohm * (found.mean_a - at_a)
    gate = np.maximum(bias + found.control_v * turn, 0.0) ** 2
    drain = np.maximum(bias - (4.6 - ohm * (found.mean_a - at_a)) + 2 * found.control_v * turn, 0.0) ** 2
    current = 2e-3 * (gate - drain)
    assert found.mean_a == pytest.approx(current.mean(), rel=1e-3)
    assert 2 * (current * turn).mean() / found.control_v == pytest.approx(needed, rel=1e-3)
    # More room gives more swing: the drain is what ends it.
    assert swing(device, at_a, needed, ohm).control_v > 1.5 * found.control_v
