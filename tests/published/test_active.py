"""Amplifiers from parts against a circuit simulator (ngspice 39, run once on the decks of `amplifiers.py`),
scikit-rf, closed forms and each other.
"""

from dataclasses import replace
from math import exp, log10, sqrt

import numpy as np
import pytest
import skrf
from hypothesis import given, settings
from hypothesis import strategies as st

from core.circuits import nodal
from core.circuits.active import operating
from core.circuits.active.large_signal import (
    COMPRESSION_BEYOND_LIMIT_DB,
    _second,
    _third,
    limits,
    third_order,
)
from core.circuits.active.operating import Bias, bias
from core.circuits.active.taylor import taylor
from core.circuits.active.two_port import TwoPort, cascade, of_ladder, two_port
from core.circuits.bias import jfet_self_bias_a
from core.circuits.circuit import (
    TEMPERATURE_K,
    THERMAL_V,
    Branch,
    Circuit,
    ControlledSource,
    CoupledCoils,
    Part,
    Port,
    Rail,
    SquareLaw,
    Transformer,
    Transistor,
)
from core.circuits.ladder import Arm, Network
from core.circuits.ladder import circuit_of as ladder_circuit
from core.circuits.netlist import netlist
from core.circuits.units import T0_KELVIN
from core.circuits.unsolved import Unsolved
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.stages.amplifiers import pair
from tests.published.amplifiers import AMPLIFIERS, BJTS, J310X, circuit_of


def amplifier(name):
    return circuit_of(AMPLIFIERS[name].deck, AMPLIFIERS[name].ohm)


def solved(circuit, f):
    found = two_port(circuit, f)
    assert isinstance(found, TwoPort), found
    return found


def at_rest(circuit):
    found = bias(circuit)
    assert isinstance(found, Bias), found
    return found


@pytest.mark.parametrize("name", AMPLIFIERS)
def test_small_signal_and_noise_are_the_simulators(name):
    made = AMPLIFIERS[name]
    table = np.array([row[:5] + row[7:] for row in made.rows]).T
    found = solved(amplifier(name), table[0] * 1e6)
    (s11, s12), (s21, s22) = 20 * np.log10(np.abs(found.s(made.ohm)))
    np.testing.assert_allclose(s21, table[1], atol=0.0006)
    np.testing.assert_allclose(found.gain_db(made.ohm, made.ohm), table[1], atol=0.0006)
    for got, told in ((s11, table[2]), (s22, table[3]), (s12, table[4])):
        np.testing.assert_allclose(got, told, atol=0.0055)
    np.testing.assert_allclose(found.input_ohm(made.ohm), [row[5] for row in made.rows], atol=0.0072)
    np.testing.assert_allclose(found.output_ohm(made.ohm), [row[6] for row in made.rows], atol=0.0072)
    np.testing.assert_allclose(found.noise_figure_db(made.ohm), table[5], atol=0.0006)


@pytest.mark.parametrize("name", AMPLIFIERS)
def test_bias_is_the_simulators(name):
    rest = at_rest(amplifier(name))
    assert set(rest.transistors) == set(AMPLIFIERS[name].bias)
    for ref, (ampere, control_v, output_v) in AMPLIFIERS[name].bias.items():
        point = rest.transistors[ref]
        assert point.output_a == pytest.approx(ampere, rel=5e-5)
        assert point.control_v == pytest.approx(control_v, abs=5.1e-5)
        assert point.output_v == pytest.approx(output_v, rel=2e-5)


def single(device, *parts, volt):
    """One transistor T of nodes c, b, e with resistors between nodes, on a rail v."""
    branches = [Branch(Transistor("T", device), ("c", "b", "e"))]
    branches += [Branch(Part(f"R{n}", "resistor", ohm), (a, b)) for n, (a, b, ohm) in enumerate(parts)]
    return Circuit(tuple(branches), (), (Rail("v", volt),))


J310Z = SquareLaw(slope_a_v2=2.1875e-3, threshold_v=-4.0)
WIRE = 1e-6
#: Device, resistors, supply [V]; output current [A], control and output voltage [V]: ngspice 39, `op`.
POINTS = {
    "JFET, 2.2 kohm": (J310Z, [("e", "0", 2200)], 9, 1.44832e-3, -3.18631, None),
    "the same with a sloping channel": (J310X, [("e", "0", 2200)], 9, 1.45746e-3, -3.20641, None),
    "JFET, 100 ohm": (J310Z, [("e", "0", 100)], 9, 14.3698e-3, -1.43698, None),
    "JFET in its triode region": (J310Z, [("e", "0", 100), ("v", "c", 1000)], 9, 7.64149e-3, None, 0.594359),
    "divider": (
        BJTS,
        [("v", "b", 22e3), ("b", "0", 4.7e3), ("v", "c", 1e3), ("e", "0", 470)],
        12,
        2.88300e-3,
        0.680313,
        7.75370,
    ),
    "saturated": (
        BJTS,
        [("v", "b", 10e3), ("v", "c", 10e3), ("e", "0", 100)],
        12,
        1.17427e-3,
        None,
        0.0292686,
    ),
    "collector feedback": (BJTS, [("c", "b", 220e3), ("v", "c", 2.2e3)], 9, 2.29713e-3, None, 3.91394),
    "MOSFET": (
        SquareLaw(slope_a_v2=0.55, threshold_v=3.2),
        [("g", "b", 4.7e3), ("b", "0", 10e3)],
        13.8,
        22.3003e-3,
        3.40136,
        None,
    ),
    "MOSFET with a source resistor": (
        SquareLaw(slope_a_v2=0.12, threshold_v=2.1, channel_per_v=0.01),
        [("v", "b", 47e3), ("b", "0", 22e3), ("e", "0", 33), ("v", "c", 82)],
        12,
        36.2636e-3,
        2.62939,
        7.82969,
    ),
}


@pytest.mark.parametrize("name", POINTS)
def test_every_state_of_a_transistor_is_the_simulators(name):
    device, parts, volt, ampere, control_v, output_v = POINTS[name]
    ends = {node for a, b, _ in parts for node in (a, b)}
    wired = [("v", "c", WIRE)] if "c" not in ends else []
    wired += [("b", "0", WIRE)] if "b" not in ends else []
    wired += [("e", "0", WIRE)] if "e" not in ends else []
    circuit = single(device, *parts, *wired, volt=volt)
    if "g" in ends:
        circuit = Circuit(circuit.branches, (), (*circuit.rails, Rail("g", 5.0)))
    point = at_rest(circuit).transistors["T"]
    assert point.output_a == pytest.approx(ampere, rel=5e-6)
    if control_v is not None:
        assert point.control_v == pytest.approx(control_v, rel=3e-6)
    if output_v is not None:
        assert point.output_v == pytest.approx(output_v, rel=3e-5)


def test_a_jfet_with_a_source_resistor_is_the_closed_form():
    for ohm in (10.0, 100.0, 2200.0, 1e5):
        circuit = single(J310Z, ("e", "0", ohm), ("b", "0", WIRE), ("v", "c", WIRE), volt=20)
        found = at_rest(circuit).transistors["T"].output_a
        assert found == pytest.approx(jfet_self_bias_a(35e-3, 4.0, ohm), rel=1e-6)


def test_a_pnp_is_an_npn_with_everything_turned():
    parts = [("v", "b", 22e3), ("b", "0", 4.7e3), ("v", "c", 1e3), ("e", "0", 470)]
    turned = type(BJTS)(**{**{name: getattr(BJTS, name) for name in FIELDS}, "sign": -1})
    one = at_rest(single(BJTS, *parts, volt=12)).transistors["T"]
    other = at_rest(single(turned, *parts, volt=-12)).transistors["T"]
    assert other.output_a == pytest.approx(-one.output_a, rel=1e-9)
    assert other.output_v == pytest.approx(-one.output_v, rel=1e-9)
    assert other.series.output[1, 0] == pytest.approx(one.series.output[1, 0], rel=1e-9)
    assert other.watt == pytest.approx(one.watt, rel=1e-9)


@pytest.mark.parametrize("u", [-1.5, 0.7])
def test_a_p_channel_is_an_n_channel_with_everything_turned(u):
    one, other = taylor(J310X, u, 6.0), taylor(replace(J310X, sign=-1), -u, -6.0)
    # i(u, w) = −i(−u, −w): terms of even order change their sign, those of odd order keep it.
    order = np.add.outer(np.arange(len(one.output)), np.arange(len(one.output)))
    np.testing.assert_allclose(other.output, -((-1.0) ** order) * one.output)
    assert other.output[0, 0] == -one.output[0, 0] != 0


FIELDS = [
    "saturation_a",
    "current_gain",
    "transition_hz",
    "transition_at_a",
    "feedback_f",
    "emitter_f",
    "base_ohm",
    "early_v",
]


@given(st.sampled_from([BJTS, J310X]), st.floats(-5, 0.75), st.floats(-3, 12))
def test_a_series_is_its_device_nearby(device, u, w):
    around, step = taylor(device, u, w), 1e-4
    for x, y in ((step, 0.0), (0.0, step), (-step, step)):
        told = sum(around.output[a, b] * x**a * y**b for a in range(4) for b in range(4 - a))
        there = taylor(device, u + x, w + y).output[0, 0]
        # At the knee of the square law the third derivative jumps; elsewhere the fourth power is left.
        assert told == pytest.approx(there, rel=1e-8, abs=1e-10)


def test_the_transition_frequency_is_the_data_sheets():
    u = THERMAL_V * np.log(10e-3 / BJTS.saturation_a)
    series = taylor(BJTS, u, u)
    slope, charge = series.output[1, 0] + series.output[0, 1], series.charge[1, 0] + series.charge[0, 1]
    whole = charge + BJTS.emitter_f + BJTS.feedback_f
    assert slope / (2 * np.pi * whole) == pytest.approx(300e6, rel=1e-3)


@pytest.mark.parametrize(
    ("name", "intercept_dbm", "lowest", "compressed_dbm"),
    [
        ("a1", 26.32, ("Q1", "current", 10.02), 11.54),
        ("a2", 24.39, ("Q1", "current", 8.19), 9.68),
        ("b", 33.19, ("Q1", "current", 15.11), 16.78),
        ("b on 6 V", 31.99, ("Q1", "voltage", 13.96), 15.32),
        ("c12", 30.79, ("Q3", "current", 9.83), 11.46),
        ("c22", 28.41, ("Q3", "current", 9.69), 11.15),
        ("d", 34.63, ("J1", "voltage", 17.02), 18.44),
        ("e", 14.32, ("Q1", "current", -2.51), -1.04),
        ("f", 6.26, ("J1", "current", -12.89), -11.20),
    ],
)
def test_intercept_and_compression_are_those_of_transient_simulation(
    name, intercept_dbm, lowest, compressed_dbm
):
    deck = AMPLIFIERS[name.split()[0]].deck
    if name.endswith("6 V"):
        deck = deck.replace("Vvcc vcc 0 12.0", "Vvcc vcc 0 6.0").replace("R1 vcc b 2200", "R1 vcc b 820")
    circuit = circuit_of(deck)
    assert third_order(circuit, 13.5e6, 14.5e6).output_dbm == pytest.approx(intercept_dbm, abs=0.1)
    first = limits(circuit, 14e6)[0]
    assert (first.ref, first.what) == lowest[:2]
    assert first.output_dbm == pytest.approx(lowest[2], abs=0.006)
    # An empirical rule, half a decibel either way.
    assert first.output_dbm + COMPRESSION_BEYOND_LIMIT_DB == pytest.approx(compressed_dbm, abs=0.5)


def test_currents_of_second_and_third_order_are_those_of_the_sampled_product():
    rng = np.random.default_rng(5)
    t = rng.normal(size=(4, 4))
    (u, w), (v, x) = a, b = rng.normal(size=(2, 2)) + 1j * rng.normal(size=(2, 2))
    # Two tones of 5 and 7 turns, the series multiplied out sample by sample, and what is at 12 and 17 turns.
    turn = np.exp(2j * np.pi * np.arange(128) / 128)
    control, output = (u * turn**5 + v * turn**7).real, (w * turn**5 + x * turn**7).real
    for order, made, turns in ((2, _second, 12), (3, _third, 17)):
        current = sum(t[n, order - n] * control**n * output ** (order - n) for n in range(order + 1))
        there = 2 * np.mean(current * turn**-turns)
        assert made(t, a, b) == pytest.approx(there)


def test_an_exponential_junction_without_surroundings_is_the_closed_form():
    """Ip = 2 sqrt(2) Ic for gm R small (derived from the exponential; memoryless, no feedback)."""
    parts = [("b", "0", WIRE), ("e", "m", WIRE), ("v", "c", WIRE)]
    plain = type(BJTS)(**{**{name: getattr(BJTS, name) for name in FIELDS}, "base_ohm": 0.0, "early_v": 1e9})
    branches = [*single(plain, *parts, volt=10).branches]
    branches = [b for b in branches if b.part.ref not in ("R0", "R2")]
    branches += [
        Branch(Part("RB", "resistor", 1e-3), ("b", "0")),
        Branch(Part("CI", "capacitor", 1.0), ("in", "b")),
        Branch(Part("LC", "inductor", 1.0), ("v", "c")),
        Branch(Part("CO", "capacitor", 1.0), ("c", "out")),
    ]
    rails = (Rail("v", 10.0), Rail("m", -0.6))
    circuit = Circuit(tuple(branches), (Port("in", 50.0), Port("out", 50.0)), rails)
    at = at_rest(circuit).transistors["T"].output_a
    peak_a = 2 * sqrt(2) * at
    told = 10 * log10(peak_a**2 / 2 * 50.0 / 1e-3)
    assert third_order(circuit, 9e3, 10e3).output_dbm == pytest.approx(told, abs=0.02)


def test_a_termination_insensitive_stage_hides_its_load():
    f = np.array([1e6, 7e6, 14e6, 28e6])

    def moved(name, load_ohm):
        found = solved(amplifier(name), f)
        reflected = [(z - 50) / (z + 50) for z in (found.input_ohm(50.0), found.input_ohm(load_ohm))]
        return np.abs(reflected[0] - reflected[1])

    np.testing.assert_allclose(moved("a1", 10.0), [0.4128, 0.4125, 0.4109, 0.4047], atol=1e-4)
    np.testing.assert_allclose(moved("c12", 10.0), [0.0052, 0.0166, 0.0305, 0.0490], atol=1e-4)
    np.testing.assert_allclose(moved("c22", 10.0), [0.0055, 0.0169, 0.0291, 0.0400], atol=1e-4)


@pytest.mark.parametrize(
    ("name", "least"), [("a1", 0.46), ("a2", 0.86), ("b", 0.62), ("c12", 3.91), ("c22", 4.47), ("e", 0.15)]
)
def test_stability_over_frequency(name, least):
    _, mu = solved(amplifier(name), np.geomspace(0.1e6, 2e9, 801)).stability()
    assert mu.min() == pytest.approx(least, abs=0.01)


def test_scikit_rf_finds_the_same_stability_and_cascade():
    f = np.linspace(1e6, 60e6, 21)
    one, two = solved(amplifier("c12"), f), solved(amplifier("a1"), f)
    networks = [
        skrf.Network(f=f, f_unit="Hz", s=np.moveaxis(each.s(50.0), -1, 0), z0=50) for each in (one, two)
    ]
    np.testing.assert_allclose(one.stability()[0], networks[0].stability, rtol=1e-9)
    joined = networks[0] ** networks[1]
    np.testing.assert_allclose(cascade([one, two]).s(50.0)[1, 0], joined.s[:, 1, 0], rtol=1e-10)
    np.testing.assert_allclose(cascade([one, two]).s(50.0)[0, 0], joined.s[:, 0, 0], rtol=1e-10)


def series_network(*arms):
    return Network(tuple(arms), 50.0, 50.0)


def pad(db):
    """A pi attenuator of 50 ohm."""
    k = 10 ** (db / 20)
    shunt, series = 50 * (k + 1) / (k - 1), 50 * (k - 1 / k) / 2
    return series_network(
        Arm("shunt", (Part("R1", "resistor", shunt),)),
        Arm("series", (Part("R2", "resistor", series),)),
        Arm("shunt", (Part("R3", "resistor", shunt),)),
    )


@given(st.floats(0.5, 40))
def test_an_attenuators_noise_figure_is_its_loss(db):
    found = of_ladder(pad(db), [14e6])
    # At 290 K exactly its loss; at the parts' 300.15 K 1 + (L − 1) T/T0.
    told = 10 * log10(1 + (10 ** (db / 10) - 1) * TEMPERATURE_K / T0_KELVIN)
    assert found.noise_figure_db(50.0)[0] == pytest.approx(told, abs=1e-9)
    assert found.gain_db(50.0, 50.0)[0] == pytest.approx(-db, abs=1e-9)


@pytest.mark.parametrize("source", [50.0, 20.0 + 35.0j, 130.0 - 80.0j])
def test_a_passive_circuits_noise_figure_is_its_available_loss_from_any_source(source):
    branches = (
        Branch(Part("R1", "resistor", 40.0), ("in", "a")),
        Branch(Part("L1", "inductor", 0.6e-6), ("a", "out")),
        Branch(Part("R2", "resistor", 220.0), ("a", "0")),
    )
    found = solved(Circuit(branches, (Port("in", 50.0), Port("out", 50.0))), [10e6])
    # H. Nyquist, 1928: resistors at T make F = 1 + (T / T0) (L - 1), with L the loss into a matched load.
    loss = 10 ** (-found.gain_db(source, np.conj(found.output_ohm(source)))[0] / 10)
    expected = 1 + TEMPERATURE_K / T0_KELVIN * (loss - 1)
    assert 10 ** (found.noise_figure_db(source)[0] / 10) == pytest.approx(expected, rel=1e-9)


def test_a_lossless_match_adds_no_noise():
    coil = Arm("series", (Part("L1", "inductor", 1e-6),))
    gap = Arm("shunt", (Part("C1", "capacitor", 100e-12),))
    found = of_ladder(series_network(coil, gap), np.linspace(5e6, 20e6, 11))
    np.testing.assert_allclose(found.noise_figure_db(50.0), 0.0, atol=1e-12)


def test_matched_blocks_in_a_row_are_friis():
    blocks = [of_ladder(pad(db), [10e6]) for db in (3.0, 6.0, 10.0)]
    whole = cascade(blocks)
    gain, factor = 1.0, 1.0
    for block in blocks:
        factor += (10 ** (block.noise_figure_db(50.0)[0] / 10) - 1) / gain
        gain *= 10 ** (block.gain_db(50.0, 50.0)[0] / 10)
    assert whole.noise_figure_db(50.0)[0] == pytest.approx(10 * log10(factor), abs=1e-9)


def ladder_of_six():
    """Six crystals of 9 MHz, 18 mH, 12 ohm, 3.5 pF; 88.42 pF; 200 ohm inside, 1:4 windings at both ends."""
    farad, series = 8.841941282883076e-11, 1 / (0.018 * 1.73733168111e-14)
    fs = sqrt(series) / (2 * np.pi)
    branches = [
        Branch(CoupledCoils("KTA", 25e-6, 100e-6, 0.999), ("in", "0", "a0", "0")),
        Branch(Part("CS0", "capacitor", farad), ("a0", "m0")),
    ]
    for n in range(1, 7):
        crystal = Part(f"X{n}", "crystal", fs, sqrt(series) * 0.018 / 12, 0.018, 3.5e-12)
        branches.append(Branch(crystal, (f"m{n - 1}", f"m{n}")))
        if n < 6:
            branches.append(Branch(Part(f"CK{n}", "capacitor", farad), (f"m{n}", "0")))
    branches += [
        Branch(Part("CS1", "capacitor", farad), ("m6", "b0")),
        Branch(CoupledCoils("KTB", 100e-6, 25e-6, 0.999), ("b0", "0", "out", "0")),
    ]
    return Circuit(tuple(branches), (Port("in", 50.0), Port("out", 50.0)))


def test_amplifier_ladder_amplifier_is_one_noisy_whole():
    """Against the three solved as one matrix and ngspice on the joined netlist, as printed to 0.01 dB."""
    f = 9e6 + 1e3 * np.array([0.1525, 0.695, 2.4075, 2.905])
    ladder = solved(ladder_of_six(), f)
    whole = cascade([solved(amplifier("c22"), f), ladder, solved(amplifier("c12"), f)])
    np.testing.assert_allclose(whole.gain_db(50.0, 50.0), [27.98, 32.62, 32.22, 26.95], atol=0.03)
    np.testing.assert_allclose(whole.noise_figure_db(50.0), [3.06, 2.91, 2.91, 3.07], atol=0.006)
    # A ladder ahead of the amplifier turns its noise match: not what loss and noise figure add up to.
    behind = cascade([ladder, solved(amplifier("c12"), f)]).noise_figure_db(50.0)
    added = solved(amplifier("c12"), f).noise_figure_db(50.0) - ladder.gain_db(50.0, 50.0)
    np.testing.assert_allclose((behind - added)[1:3], [0.40, 0.12], atol=0.01)


def test_a_cascade_of_circuits_is_the_circuit_of_the_cascade():
    one = circuit_of(AMPLIFIERS["a1"].deck)
    f = np.linspace(1e6, 30e6, 7)

    def renamed(circuit, mark, ends):
        def name(node):
            return ends.get(node, node if node in ("0", "vcc") else f"{mark}{node}")

        moved = []
        for branch in circuit.branches:
            part = branch.part
            fields = {field: getattr(part, field) for field in part.__dataclass_fields__}
            moved.append(
                Branch(type(part)(**{**fields, "ref": mark + part.ref}), tuple(map(name, branch.nodes)))
            )
        return moved

    both = renamed(one, "x", {"out": "join"}) + renamed(one, "y", {"in": "join"})
    ends = (Port("xin", 50.0), Port("yout", 50.0))
    whole = solved(Circuit(tuple(both), ends, one.rails), f)
    parts = cascade([solved(one, f), solved(one, f)])
    np.testing.assert_allclose(whole.gain_db(50.0, 50.0), parts.gain_db(50.0, 50.0), atol=1e-8)
    np.testing.assert_allclose(whole.noise_figure_db(50.0), parts.noise_figure_db(50.0), atol=1e-9)


def test_a_ladder_is_the_same_two_port_by_either_way():
    arms = [
        Arm("series", (Part("X1", "crystal", 9e6, 70e3, 0.018, 3.5e-12),)),
        Arm("shunt", (Part("C1", "capacitor", 100e-12, 800.0),)),
        Arm("series", (Part("X2", "crystal", 9e6, 50e3, 0.018, 3.5e-12),)),
        Arm("shunt", (Part("L1", "inductor", 3e-6, 90.0), Part("C2", "capacitor", 90e-12))),
    ]
    network, f = series_network(*arms), np.linspace(8.999e6, 9.004e6, 31)
    one, other = of_ladder(network, f), solved(ladder_circuit(network), f)
    np.testing.assert_allclose(one.chain, other.chain, rtol=1e-7)
    np.testing.assert_allclose(one.noise_figure_db(50.0), other.noise_figure_db(50.0), atol=1e-7)


def test_a_passive_circuit_is_the_nodal_solvers():
    branches = (
        Branch(Part("L1", "inductor", 1e-6, 120.0), ("in", "a")),
        Branch(Part("C1", "capacitor", 220e-12, 500.0), ("a", "0")),
        Branch(Part("X1", "crystal", 9e6, 70e3, 0.018, 3.5e-12), ("a", "out")),
        Branch(Part("R1", "resistor", 470.0), ("out", "0")),
    )
    circuit = Circuit(branches, (Port("in", 50.0), Port("out", 50.0)))
    f = np.linspace(8.99e6, 9.03e6, 41)
    np.testing.assert_allclose(solved(circuit, f).s(50.0), nodal.solve(circuit, f).s, atol=1e-9)


def test_a_controlled_source_is_what_it_says():
    branches = (
        Branch(ControlledSource("G1", 0.02), ("out", "0", "in", "0")),
        Branch(Part("R1", "resistor", 1e3), ("in", "0")),
        Branch(Part("R2", "resistor", 1e3), ("out", "0")),
    )
    found = solved(Circuit(branches, (Port("in", 50.0), Port("out", 50.0))), [1e6])
    one = 1e3 * 50 / (1e3 + 50)
    assert found.s(50.0)[1, 0, 0] == pytest.approx(-2 * (1e3 / 1050) * 0.02 * one, rel=1e-9)
    # With 30 ohm in the common lead 20 mS become 12.5; the solver of passive circuits has it alike.
    common = (
        Branch(ControlledSource("G1", 0.02), ("out", "e", "in", "e")),
        Branch(Part("R3", "resistor", 30.0), ("e", "0")),
        *branches[1:],
    )
    circuit = Circuit(common, (Port("in", 50.0), Port("out", 50.0)))
    expected = -2 * (1e3 / 1050) * 0.0125 * one
    assert solved(circuit, [1e6]).s(50.0)[1, 0, 0] == pytest.approx(expected, rel=1e-9)
    assert nodal.solve(circuit, np.array([1e6])).s[1, 0, 0] == pytest.approx(expected, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(
    st.floats(2, 5).map(lambda e: 10**e),
    st.floats(2, 5).map(lambda e: 10**e),
    st.floats(1, 4).map(lambda e: 10**e),
    st.floats(1, 4).map(lambda e: 10**e),
    st.floats(3, 24),
)
def test_direct_currents_always_settle_and_add_up(upper, lower, load, emitter, volt):
    parts = [("v", "b", upper), ("b", "0", lower), ("v", "c", load), ("e", "0", emitter)]
    rest = at_rest(single(BJTS, *parts, volt=volt))
    volts, point = rest.volts, rest.transistors["T"]
    into = (volt - volts["b"]) / upper - volts["b"] / lower
    assert into == pytest.approx(point.control_a, rel=1e-5, abs=1e-11)
    assert (volt - volts["c"]) / load == pytest.approx(point.output_a, rel=1e-5, abs=1e-11)
    assert rest.rails_a["v"] == pytest.approx(into + volts["b"] / lower + point.output_a, rel=1e-5, abs=1e-11)
    assert volts["e"] / emitter == pytest.approx(point.output_a + point.control_a, rel=1e-5, abs=1e-11)
    told = BJTS.saturation_a * (exp(point.control_v / THERMAL_V))
    if point.output_v > 0.5:
        assert point.output_a == pytest.approx(
            told * (1 + (point.output_v - point.control_v) / BJTS.early_v), rel=1e-6, abs=1e-13
        )


@pytest.mark.parametrize(
    ("ends", "rows"),
    [
        ((0, 1), [[2, -2, 0], [-2, 2, 0], [0, 0, 0]]),
        ((-1, 1), [[0, 0, 0], [0, 2, 0], [0, 0, 0]]),
        ((2, -1), [[0, 0, 0], [0, 0, 0], [0, 0, 2]]),
    ],
)
def test_what_bridges_a_junction_to_ground_stands_on_its_node_alone(ends, rows):
    matrix = np.zeros((3, 3))
    operating._pair(matrix, *ends, 2.0)
    np.testing.assert_array_equal(matrix, rows)


@pytest.mark.parametrize("name", ["c12", "f", "g"])
@pytest.mark.parametrize("helped", [True, False])
def test_what_helps_direct_currents_to_settle_is_gone_when_they_have(monkeypatch, name, helped):
    """Where plain steps do not settle, junctions are bridged first, or else the supply comes up by steps."""
    plain = at_rest(amplifier(name))
    newton, asked = operating._newton, []

    def reluctant(equations, x, state, help_s, share):
        asked.append((help_s, share))
        refused = len(asked) == 1 or (not helped and help_s > 0)
        return None if refused else newton(equations, x, state, help_s, share)

    monkeypatch.setattr(operating, "_newton", reluctant)
    bias.cache_clear()
    found = at_rest(amplifier(name))
    bias.cache_clear()
    assert found.volts == pytest.approx(plain.volts, rel=1e-7, abs=1e-9)
    for ref, point in plain.transistors.items():
        assert found.transistors[ref].output_a == pytest.approx(point.output_a, rel=1e-6)
    # From much help to none, from a little supply to the whole, and never a step back.
    assert asked[-1] == (0.0, 1.0)
    if helped:
        assert asked[1:] == sorted(asked[1:], reverse=True)
        assert (asked[1][0], len(asked)) == (0.01, 13)
    else:
        assert asked[2:] == sorted(asked[2:])
        assert (asked[2][1], len(asked)) == (0.05, 22)


def test_a_lead_without_direct_current_is_told():
    made = (
        Branch(Transistor("Q1", J310X), ("c", "b", "e")),
        Branch(Part("C1", "capacitor", 1e-9), ("b", "0")),
        Branch(Part("R1", "resistor", 1e3), ("e", "0")),
        Branch(Part("R2", "resistor", 1e3), ("v", "c")),
    )
    found = bias(Circuit(made, (), (Rail("v", 12.0),)))
    assert isinstance(found, Unsolved)
    assert found.reason == (
        "No direct current reaches the gate of Q1, where only C1 ends; give it a resistor or a choke."
    )
    leaking = Branch(Part("R3", "resistor", 1e6), ("b", "0"))
    assert at_rest(Circuit((*made, leaking), (), (Rail("v", 12.0),)))


def test_a_node_between_capacitors_gets_what_an_operating_point_wants():
    """With them ngspice 39 finds its operating point at once; without, by a transient alone; by hand."""
    made = (
        Branch(Part("C1", "capacitor", 1e-9), ("in", "mid-way")),
        Branch(Part("C2", "capacitor", 1e-9), ("mid-way", "b")),
        Branch(Transistor("Q1", J310X), ("c", "b", "e")),
        Branch(Part("R1", "resistor", 1e3), ("e", "0")),
        Branch(Part("R2", "resistor", 1e3), ("v", "c")),
        Branch(Part("R3", "resistor", 1e6), ("b", "0")),
    )
    circuit = Circuit(made, (Port("in", 50.0), Port("c", 50.0)), (Rail("v", 12.0),))
    assert at_rest(circuit)
    text = netlist(circuit, "t", (1e6, 30e6)).splitlines()
    assert [line for line in text if line.startswith("R_dc")] == ["R_dc_mid_way mid_way 0 1000000000000.0"]
    assert sum("no direct current reaches" in line for line in text) == 1
    # Filters have no operating point, and three amplifiers no such node.
    passive = Circuit((*made[:2], made[-1]), (Port("in", 50.0), Port("b", 50.0)))
    for plain in (passive, amplifier("c12")):
        assert "R_dc" not in netlist(plain, "t", (1e6, 30e6))


def test_a_netlist_has_every_transistor_with_its_model_and_capacitances():
    """As netlists, ngspice 39 gives S21 of all nine amplifiers to 6e-7, all that it prints; by hand."""
    text = netlist(amplifier("c12"), "three transistors", (1e6, 30e6)).splitlines()
    assert [line.split()[0] for line in text if line.startswith("Q_")] == ["Q_Q1", "Q_Q2", "Q_Q3"]
    assert "V_rail_vcc vcc 0 DC 12.0" in text
    (model,) = {line.split(" ", 2)[2] for line in text if line.startswith(".model")}
    told = dict(each.split("=") for each in model.removeprefix("NPN(").removesuffix(")").split())
    assert float(told["TF"]) == pytest.approx(5.085313e-10, rel=1e-6)
    assert {name: float(told[name]) for name in ("IS", "BF", "BR", "VAF", "RB", "CJE", "CJC")} == {
        "IS": 1e-14,
        "BF": 150,
        "BR": 1,
        "VAF": 80,
        "RB": 20,
        "CJE": 5e-12,
        "CJC": 3.5e-12,
    }
    follower = netlist(amplifier("f"), "follower", (1e6, 30e6)).splitlines()
    assert "C_J1_gs g s 4.5e-12" in follower
    assert "C_J1_gd g vdd 2.2e-12" in follower
    assert any(line.endswith("NJF(VTO=-4.0 BETA=0.0021875 LAMBDA=0.01)") for line in follower)


@pytest.mark.parametrize(("sign", "kind"), [(1, "NMOS"), (-1, "PMOS")])
def test_an_insulated_gate_is_written_as_the_simulators_square_law(sign, kind):
    # SPICE level 1: ID = KP/2 W/L (VGS - VTO)^2, so that KP is twice A/V^2 of a square as wide as long.
    device = SquareLaw(slope_a_v2=0.05, threshold_v=2.0, channel_per_v=0.01, sign=sign)
    made = Circuit((Branch(Transistor("Q1", device), ("d", "g", "0")),), (Port("g", 50.0), Port("d", 50.0)))
    told = netlist(made, "switch", (1e6, 30e6))
    assert f" {kind}(LEVEL=1.0 VTO={sign * 2.0} KP=0.1 LAMBDA=0.01)" in told
    assert "W=1u L=1u" in told


def test_what_the_solver_cannot_have_is_told():
    ideal = Circuit(
        (Branch(Transformer("T1", 2.0), ("in", "0", "out", "0")),), (Port("in", 50.0), Port("out", 50.0))
    )
    found = two_port(ideal, [1e6])
    assert isinstance(found, Unsolved)
    assert "T1" in found.reason
    one = Circuit((Branch(Part("R1", "resistor", 50.0), ("in", "0")),), (Port("in", 50.0),))
    assert "two ports" in two_port(one, [1e6]).reason
    coil = Circuit(
        (Branch(Part("L1", "inductor", 1e-6), ("in", "out")),), (Port("in", 50.0), Port("out", 50.0))
    )
    assert isinstance(two_port(coil, [1e6]), TwoPort)
    # At no frequency a coil is a short, and its ends are one node.
    assert "no single answer" in two_port(coil, [0.0, 1e6]).reason


#: A bilateral pair: resistors of the receive half (1) and the transmit half (2), all capacitors 100 nF.
PAIR = {
    "feedback:1": 2200.0,
    "degeneration:1": 6.8,
    "output_resistor:1": 47.0,
    "emitter:1": 240.0,
    "collector:1": 220.0,
    "emitter:2": 1000.0,
    "emitter:3": 330.0,
    "bias_upper:1": 4700.0,
    "bias_lower:1": 4700.0,
    "feedback:2": 510.0,
    "degeneration:2": 30.0,
    "output_resistor:2": 51.0,
    "emitter:4": 220.0,
    "collector:2": 220.0,
    "emitter:5": 1000.0,
    "emitter:6": 330.0,
    "bias_upper:2": 4700.0,
    "bias_lower:2": 4700.0,
}
#: MHz, S21, S11, S22, S12 and noise figure [dB] with one half fed with 12 V and the other one with nothing:
#: ngspice 39, run once on the exported list, `ac` and `noise`.
PAIR_ROWS = {
    "receive": (
        (1.0, 21.40791, -20.92603, -29.37121, -65.97345, 3.51160),
        (7.0, 21.14359, -26.51420, -31.04658, -55.72039, 3.55056),
        (14.0, 20.19996, -21.81702, -32.92715, -48.99938, 3.67779),
        (28.0, 17.34330, -16.44534, -35.87645, -41.54475, 4.15847),
    ),
    "transmit": (
        (1.0, 10.15825, -30.68386, -34.95178, -55.90761, 5.82471),
        (7.0, 10.06849, -28.25786, -31.95042, -45.75818, 5.88164),
        (14.0, 9.76213, -22.22863, -26.80805, -40.08739, 6.05995),
        (28.0, 8.63210, -17.23928, -22.02489, -34.49069, 6.71465),
    ),
}


def pair_with(way):
    """The pair with the simulator's transistors, fed and driven in a direction."""
    asked = BilateralAmplifier(
        id="pair",
        name="Pair",
        receive_gain_db=21.0,
        transmit_gain_db=10.0,
        current_a=13e-3,
        as_built=tuple(PAIR.items()),
    )
    made = pair.design(asked)
    circuit = made.on(way).circuit
    branches = tuple(
        replace(each, part=replace(each.part, device=BJTS)) if isinstance(each.part, Transistor) else each
        for each in circuit.branches
    )
    return replace(circuit, branches=branches)


@pytest.mark.parametrize("way", PAIR_ROWS)
def test_a_bilateral_pair_is_the_simulators_with_its_unfed_half(way):
    table = np.array(PAIR_ROWS[way]).T
    found = solved(pair_with(way), table[0] * 1e6)
    (s11, s12), (s21, s22) = 20 * np.log10(np.abs(found.s(50.0)))
    for got, told in zip((s21, s11, s22, s12), table[1:5], strict=True):
        np.testing.assert_allclose(got, told, atol=1e-4)
    np.testing.assert_allclose(found.noise_figure_db(50.0), table[5], atol=1e-4)


def test_compression_of_a_bilateral_pair_is_the_simulators():
    """+10.58 dBm at 9 MHz by transient analysis (ngspice 39, run once; settled for 5000 periods)."""
    found = limits(pair_with("receive"), 9e6)
    first = next(each for each in found if each.what != "off")
    assert first.output_dbm + COMPRESSION_BEYOND_LIMIT_DB == pytest.approx(10.58, abs=0.5)
    # The unfed half conducts long before, and hardly takes gain: the simulator has 0.3 dB less at 9.6 dBm.
    assert found[0].what == "off"
    assert found[0].output_dbm < 6.0
