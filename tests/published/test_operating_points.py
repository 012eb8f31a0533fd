"""Transistors at rest: every state as a circuit simulator has it (ngspice 39, run once), and settling."""

from dataclasses import replace
from math import exp

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.circuits.active import operating
from core.circuits.active.operating import bias
from core.circuits.active.taylor import taylor
from core.circuits.bias import jfet_self_bias_a
from core.circuits.circuit import (
    THERMAL_V,
    Branch,
    Circuit,
    Part,
    Port,
    Rail,
    SquareLaw,
    Transistor,
)
from core.circuits.netlist import netlist
from core.circuits.unsolved import Unsolved
from tests.published.amplifiers import BJTS, J310X, WIRE, amplifier, at_rest, single

J310Z = SquareLaw(slope_a_v2=2.1875e-3, threshold_v=-4.0)
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
    turned = replace(BJTS, sign=-1)
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
