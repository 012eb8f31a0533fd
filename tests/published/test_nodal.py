"""The nodal solver against the ladder solver, scikit-rf and closed forms."""

import numpy as np
import pytest
import skrf
from hypothesis import given, settings

from core.circuits import nodal
from core.circuits.active.operating import bias
from core.circuits.circuit import (
    DIODE_LEADS,
    Branch,
    Circuit,
    CoupledCoils,
    Diode,
    Hardware,
    Part,
    Port,
    Transformer,
    Windings,
    without_dc_path,
    without_path,
)
from core.circuits.ladder import Arm, Network, circuit_of, solve, stresses
from core.circuits.nodal import NodalResponse
from core.circuits.unsolved import Unsolved
from core.model.files import load
from core.model.samples import sample_path
from core.rig.analysis import Analysis
from core.stages.outcome import FilterDesign
from tests.published.reference import scattering
from tests.published.test_networks import F, networks


def solved(circuit, f=F, **options):
    found = nodal.solve(circuit, f, **options)
    assert isinstance(found, NodalResponse), found
    return found


@settings(deadline=None)
@given(networks)
def test_any_ladder_is_the_ladder_solvers_node_by_node(network):
    found = solved(circuit_of(network))
    forward, backward = solve(network, F), solve(network.reversed(), F)
    np.testing.assert_allclose(found.s[0, 0], forward.s11, atol=1e-9)
    np.testing.assert_allclose(found.s[1, 0], forward.s21, atol=1e-9)
    np.testing.assert_allclose(found.s[0, 1], backward.s21, atol=1e-9)
    np.testing.assert_allclose(found.s[1, 1], backward.s11, atol=1e-9)


def sample_filters():
    for path in sorted(sample_path().parent.glob("*.json")):
        project = load(path)
        analysis = Analysis(project)
        for row in analysis.filters:
            made = analysis.filter_design(row.stage, row.bands[0] if row.bands else project.bands[0].name)
            if isinstance(made, FilterDesign):
                yield pytest.param(made, id=f"{path.stem} {row.stage} {'/'.join(row.bands)}")


@pytest.mark.parametrize("made", list(sample_filters()))
def test_the_samples_filters_are_alike_by_every_solver(made):
    f = np.linspace(*made.span_hz, 201)
    found, row = solved(circuit_of(made.network), f), solve(made.network, f)
    np.testing.assert_allclose(found.s[1, 0], row.s21, atol=1e-9)
    np.testing.assert_allclose(found.s[0, 0], row.s11, atol=1e-9)
    np.testing.assert_allclose(found.s[1, 0], scattering(made.network, f)[:, 1, 0], atol=1e-9)


def test_voltages_across_shunt_arms_are_the_ladders():
    network = Network(
        (
            Arm("shunt", (Part("C1", "capacitor", 3e-10),)),
            Arm("series", (Part("L1", "inductor", 6e-7, 150),)),
            Arm("shunt", (Part("C2", "capacitor", 6e-10), Part("L2", "inductor", 1e-7, 80))),
            Arm("series", (Part("L3", "inductor", 6e-7), Part("C3", "capacitor", 9e-11)), "in_parallel"),
        ),
        50,
        75,
    )
    found = solved(circuit_of(network))
    across = stresses(network, F)
    np.testing.assert_allclose(np.abs(found.at("1")), across[0].volts, atol=1e-12)
    np.testing.assert_allclose(np.abs(found.at("2")), across[2].volts, atol=1e-12)
    np.testing.assert_allclose(np.abs(found.at("2") - found.at("4")), across[3].volts, atol=1e-12)


def bridged(network, bridge):
    circuit = circuit_of(network)
    ends = (circuit.ports[0].node, circuit.ports[1].node)
    return Circuit((*circuit.branches, Branch(bridge, ends)), circuit.ports)


def test_a_bridged_ladder_is_scikit_rfs_sum_of_admittances():
    network = Network(
        (
            Arm("shunt", (Part("C1", "capacitor", 2e-10, 400),)),
            Arm("series", (Part("X1", "crystal", 10e6, 8e4, 12e-3, 3e-12),)),
            Arm("shunt", (Part("C2", "capacitor", 2e-10, 400),)),
        ),
        300,
        300,
    )
    f = np.linspace(9.98e6, 10.04e6, 301)
    own = skrf.Network(f=f, f_unit="Hz", s=scattering(network, f), z0=300)
    w = 2 * np.pi * f
    across = w * 4e-12 * (1j + 1 / 700)
    y = own.y + across[:, None, None] * np.array([[1, -1], [-1, 1]])
    expected = skrf.network.y2s(y, 300)
    found = solved(bridged(network, Part("C3", "capacitor", 4e-12, 700)), f)
    np.testing.assert_allclose(np.moveaxis(found.s, -1, 0), expected, atol=1e-9)


@pytest.mark.parametrize("kind", ["inductor", "capacitor"])
def test_a_bridged_t_of_constant_resistance(kind):
    # O. J. Zobel, BSTJ 7 (1928) 438 (from memory): bridging Z1 over two R0, in shunt Z2 with Z1 Z2 = R0²:
    # matched at every frequency, and S21 = R0 / (R0 + Z1).
    around, value = 75.0, 1.3e-6 if kind == "inductor" else 1.2e-10
    dual = value / around**2 if kind == "inductor" else value * around**2
    other = "capacitor" if kind == "inductor" else "inductor"
    circuit = Circuit(
        (
            Branch(Part("R1", "resistor", around), ("in", "middle")),
            Branch(Part("R2", "resistor", around), ("middle", "out")),
            Branch(Part("Z1", kind, value), ("in", "out")),
            Branch(Part("Z2", other, dual), ("middle", "0")),
        ),
        (Port("in", around), Port("out", around)),
    )
    s = 2j * np.pi * F
    z1 = s * value if kind == "inductor" else 1 / (s * value)
    found = solved(circuit)
    np.testing.assert_allclose(found.s[0, 0], 0, atol=1e-12)
    np.testing.assert_allclose(found.s[1, 0], around / (around + z1), atol=1e-12)


@pytest.mark.parametrize("ratio", [0.25, 1.0, 3.5])
def test_an_ideal_transformer_by_its_closed_form(ratio):
    circuit = Circuit(
        (Branch(Transformer("T1", ratio), ("a", "0", "b", "0")),), (Port("a", 50.0), Port("b", 200.0))
    )
    found = solved(circuit)
    seen = ratio**2 * 200
    np.testing.assert_allclose(found.s[0, 0], (seen - 50) / (seen + 50), atol=1e-14)
    np.testing.assert_allclose(found.s[1, 0], 2 * np.sqrt(seen * 50) / (seen + 50), atol=1e-14)


def test_a_winding_the_other_way_round_turns_the_phase_over():
    straight = Branch(Transformer("T1", 2.0), ("a", "0", "b", "0"))
    turned = Branch(Transformer("T1", 2.0), ("a", "0", "0", "b"))
    ports = (Port("a", 200.0), Port("b", 50.0))
    assert solved(Circuit((straight,), ports)).s[1, 0] == pytest.approx(1)
    assert solved(Circuit((turned,), ports)).s[1, 0] == pytest.approx(-1)


@pytest.mark.parametrize("coupling", [0.05, 0.6, 0.999])
def test_coupled_coils_are_the_three_coils_of_their_equivalent(coupling):
    # The T of L1 - M, L2 - M and M (any text book), the losses in the legs as for the windings.
    one, two, ports = 2e-6, 5e-6, (Port("a", 50.0), Port("b", 300.0))
    mutual = coupling * np.sqrt(one * two)
    coils = Circuit((Branch(CoupledCoils("T1", one, two, coupling), ("a", "0", "b", "0")),), ports)
    legs = Circuit(
        (
            Branch(Part("La", "inductor", one - mutual), ("a", "m")),
            Branch(Part("Lb", "inductor", two - mutual), ("m", "b")),
            Branch(Part("Lm", "inductor", mutual), ("m", "0")),
        ),
        ports,
    )
    np.testing.assert_allclose(solved(coils).s, solved(legs).s, atol=1e-9)


def test_coils_coupled_wholly_are_an_ideal_transformer_with_its_magnetising_coil():
    ports = (Port("a", 50.0), Port("b", 450.0))
    coils = Circuit((Branch(CoupledCoils("T1", 1e-6, 9e-6, 1.0), ("a", "0", "b", "0")),), ports)
    ideal = Circuit(
        (
            Branch(Part("Lm", "inductor", 1e-6), ("a", "0")),
            Branch(Transformer("T1", 1 / 3), ("a", "0", "b", "0")),
        ),
        ports,
    )
    np.testing.assert_allclose(solved(coils).s, solved(ideal).s, atol=1e-12)


@pytest.mark.parametrize("coupling", [0.05, 0.998])
def test_windings_are_coupled_coils_and_two_in_series_are_one_of_twice_the_turns(coupling):
    """Two windings are a pair of coupled coils; of three alike the second and third in series have the
    inductance 2L(1 + k), and to the first a mutual one of 2kL (any text book).
    """
    ports = (Port("a", 50.0), Port("b", 300.0))
    henry, other = 2e-6, 5e-6
    two = Circuit((Branch(Windings("T1", (henry, other), coupling), ("a", "0", "b", "0")),), ports)
    pair = Circuit((Branch(CoupledCoils("T1", henry, other, coupling), ("a", "0", "b", "0")),), ports)
    np.testing.assert_allclose(solved(two).s, solved(pair).s, atol=1e-12)
    three = Circuit((Branch(Windings("T1", (henry,) * 3, coupling), ("a", "0", "b", "t", "t", "0")),), ports)
    series = 2 * henry * (1 + coupling)
    mutual = 2 * coupling * henry / np.sqrt(henry * series)
    one = Circuit((Branch(CoupledCoils("T1", henry, series, mutual), ("a", "0", "b", "0")),), ports)
    np.testing.assert_allclose(solved(three).s, solved(one).s, atol=1e-9)


def test_a_diode_is_no_matter_of_small_signals():
    device = Diode(saturation_a=1e-9, ideality=1.7, series_ohm=0.6)
    circuit = Circuit(
        (Branch(Hardware("D3", DIODE_LEADS, device), ("a", "0")),),
        (Port("a", 50.0), Port("a", 50.0)),
    )
    assert nodal.solve(circuit, [1e6]).reason == "D3 is a diode, through which no small signal is solved."
    assert bias(circuit).reason == "D3 is none of what direct currents are solved for here."


def test_a_coil_of_two_windings_loses_what_its_q_says():
    # Both windings of a tightly coupled pair in a 50 ohm line: the shunt loss is that of one coil of Q.
    ports = (Port("a", 50.0), Port("b", 50.0))
    pair = Circuit((Branch(CoupledCoils("T1", 3e-6, 3e-6, 0.0, 100), ("a", "0", "b", "0")),), ports)
    one = Circuit(
        (
            Branch(Part("L1", "inductor", 3e-6, 100), ("a", "0")),
            Branch(Part("L2", "inductor", 3e-6, 100), ("b", "0")),
        ),
        ports,
    )
    np.testing.assert_allclose(solved(pair).s, solved(one).s, atol=1e-12)


def test_a_lossless_crystal_is_exact_at_both_of_its_resonances():
    crystal = Part("X1", "crystal", 10e6, None, 12e-3, 3e-12)
    cm = 1 / ((2 * np.pi * 10e6) ** 2 * 12e-3)
    parallel = 10e6 * np.sqrt(1 + cm / 3e-12)
    circuit = Circuit((Branch(crystal, ("a", "b")),), (Port("a", 50.0), Port("b", 50.0)))
    found = solved(circuit, np.array([10e6, parallel]))
    assert found.s[1, 0, 0] == 1
    assert abs(found.s[1, 0, 1]) < 1e-6


def test_a_capacitor_of_nothing_is_not_there():
    around = (
        Branch(Part("R1", "resistor", 70.0), ("a", "b")),
        Branch(Part("R2", "resistor", 9.0), ("b", "0")),
    )
    nothing = (Branch(Part("C1", "capacitor", 0.0, 500), ("b", "0")),)
    ports = (Port("a", 50.0), Port("b", 50.0))
    np.testing.assert_array_equal(
        solved(Circuit(around + nothing, ports)).s, solved(Circuit(around, ports)).s
    )


def test_values_of_many_trials_are_solved_at_once():
    network = Network(
        (
            Arm("series", (Part("X1", "crystal", 10e6, 8e4, 12e-3, 3e-12),)),
            Arm("shunt", (Part("C1", "capacitor", 1e-10),)),
            Arm("series", (Part("X2", "crystal", 10e6, 8e4, 12e-3, 3e-12),)),
        ),
        200,
        200,
    )
    f = np.linspace(10e6, 10.01e6, 41)
    values = {"C1": np.array([[8e-11], [1e-10], [1.2e-10]]), "X2.q": np.array([[5e4], [8e4], [9e4]])}
    found = solved(circuit_of(network), f, values=values)
    assert found.s.shape == (2, 2, 3, 41)
    np.testing.assert_allclose(found.s[1, 0], solve(network, f, values=values).s21, atol=1e-9)
    assert not found.s.flags.writeable
    assert not found.volts.flags.writeable


def test_a_node_that_leads_nowhere_is_named():
    circuit = Circuit(
        (
            Branch(Part("R1", "resistor", 50), ("a", "0")),
            Branch(Part("C1", "capacitor", 1e-10), ("loose", "end")),
            Branch(Transformer("T1", 2.0), ("a", "0", "up", "down")),
        ),
        (Port("a", 50.0),),
    )
    assert without_path(circuit) == ("loose", "end", "up", "down")
    answer = nodal.solve(circuit, F)
    assert answer == Unsolved(
        "Nodes loose, end, up, down of the circuit have no path to ground; join them to the rest."
    )


def test_wires_side_by_side_share_their_current_in_no_single_way():
    wires = tuple(Branch(Part(f"R{n}", "resistor", 0.0), ("a", "b")) for n in (1, 2))
    answer = nodal.solve(Circuit(wires, (Port("a", 50.0), Port("b", 50.0))), F)
    assert isinstance(answer, Unsolved)
    assert "no single answer at 1.01 MHz" in answer.reason
    one = solved(Circuit(wires[:1], (Port("a", 50.0), Port("b", 50.0))))
    np.testing.assert_allclose(one.s[1, 0], 1)


def test_nodes_without_a_path_for_direct_current_are_found():
    circuit = Circuit(
        (
            Branch(Part("C1", "capacitor", 1e-10), ("in", "gate")),
            Branch(Part("X1", "crystal", 1e7, 1e5, 1e-2, 3e-12), ("gate", "0")),
            Branch(Part("R1", "resistor", 1e3), ("gate", "source")),
            Branch(Part("L1", "inductor", 1e-3), ("out", "0")),
            Branch(Transformer("T1", 2.0), ("out", "tap", "far", "0")),
        ),
        (Port("in", 50.0),),
    )
    assert without_path(circuit) == ()
    assert without_dc_path(circuit) == ("gate", "source")
