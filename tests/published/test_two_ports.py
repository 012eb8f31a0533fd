"""Noisy two-ports, stability, cascades and ladders: closed forms, scikit-rf and a circuit simulator."""

from math import log10

import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st

from core.circuits import nodal
from core.circuits.active.two_port import cascade, of_ladder
from core.circuits.circuit import (
    TEMPERATURE_K,
    Branch,
    Circuit,
    ControlledSource,
    Part,
    Port,
)
from core.circuits.ladder import Arm, Network
from core.circuits.ladder import circuit_of as ladder_circuit
from core.circuits.units import T0_KELVIN
from tests.published.amplifiers import AMPLIFIERS, amplifier, circuit_of, ladder_of_six, solved


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
