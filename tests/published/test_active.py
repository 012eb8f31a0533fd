"""Amplifiers from parts against a circuit simulator (ngspice 39, run once, see `amplifiers.py`)."""

from dataclasses import replace
from math import log10, sqrt

import numpy as np
import pytest

from core.circuits.active.large_signal import (
    COMPRESSION_BEYOND_LIMIT_DB,
    _second,
    _third,
    limits,
    third_order,
)
from core.circuits.active.two_port import TwoPort, two_port
from core.circuits.circuit import (
    Branch,
    Circuit,
    Part,
    Port,
    Rail,
    Transformer,
)
from core.circuits.unsolved import Unsolved
from tests.published.amplifiers import AMPLIFIERS, BJTS, WIRE, amplifier, at_rest, circuit_of, single, solved


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
    plain = replace(BJTS, base_ohm=0.0, early_v=1e9)
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
