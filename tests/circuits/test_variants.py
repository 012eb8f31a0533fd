"""Circuits with other values tried one after the other, against each of them solved by itself."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from core.circuits.active.operating import bias
from core.circuits.active.taylor import first_order, taylor
from core.circuits.active.two_port import two_port
from core.circuits.active.variants import Variants
from core.circuits.circuit import Branch, Circuit
from core.circuits.unsolved import Unsolved
from core.model.stages.audio import BuiltAudio
from core.model.stages.built_amplifier import BuiltAmplifier
from core.stages.amplifiers.design import design
from core.stages.audio import voltage
from core.trade.devices import devices

MADE = {
    topology: design(
        BuiltAmplifier(id="a", name="A", topology=topology, device=device, gain_db=gain_db, current_a=ampere)
    ).circuit
    for topology, device, gain_db, ampere in (
        ("feedback_transformer", "2n5109", 16.0, 20e-3),
        ("three_transistors", "2n3904", 16.0, 15e-3),
        ("common_gate", "j310", 10.0, 10e-3),
        ("common_source", "irf510", 12.0, 0.1),
    )
} | {"chip": voltage.design(BuiltAudio(id="b", name="B", topology="operational")).circuit}


def with_values(circuit, parts, values):
    of = {part.ref: replace(part, value=value) for part, value in zip(parts, values, strict=True)}
    return Circuit(
        tuple(Branch(of.get(b.part.ref, b.part), b.nodes) for b in circuit.branches),
        circuit.ports,
        circuit.rails,
    )


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(sorted(MADE)), st.integers(0, 10**6), st.sampled_from([1e3, 3e6, 40e6]))
def test_each_try_is_the_circuit_solved_by_itself(name, seed, f_hz):
    circuit, random = MADE[name], np.random.default_rng(seed)
    variants = Variants(circuit)
    assert {part.kind for part in variants.parts} == {"resistor", "capacitor"}
    for spread in (0.0, 0.02, 0.2, 0.2):
        values = [part.value * np.exp(random.normal(scale=spread)) for part in variants.parts]
        alone = with_values(circuit, variants.parts, values)
        rest, points = bias(alone), variants.at_rest(values)
        assert points.keys() == rest.transistors.keys()
        for ref, point in rest.transistors.items():
            assert points[ref].output_a == pytest.approx(point.output_a, rel=1e-7)
        whole, found = two_port(alone, [f_hz]), variants.two_port(values, f_hz)
        np.testing.assert_allclose(found.s(50.0), whole.s(50.0), rtol=1e-6, atol=1e-9)
        np.testing.assert_allclose(found.input_ohm(300.0), whole.input_ohm(300.0), rtol=1e-6)


def test_values_tried_before_are_not_solved_for_again(monkeypatch):
    solved, before = [], np.linalg.solve
    monkeypatch.setattr(np.linalg, "solve", lambda *args: solved.append(args) or before(*args))
    variants = Variants(MADE["three_transistors"])
    values = [part.value for part in variants.parts]
    first = variants.at_rest(values)
    count = len(solved)
    # No direct current meets a capacitor.
    other = [2 * part.value if part.kind == "capacitor" else part.value for part in variants.parts]
    assert variants.at_rest(other) == first
    assert len(solved) == count
    variants.at_rest([1.02 * value for value in values])
    assert count < len(solved) <= count + 4


def test_what_has_no_bias_or_no_answer_is_told():
    of = MADE["common_source"]
    bare = tuple(b for b in of.branches if b.part.role not in ("bias_upper", "bias_lower", "feedback"))
    hanging = Variants(Circuit(bare, of.ports, of.rails))
    told = hanging.at_rest([part.value for part in hanging.parts])
    assert isinstance(told, Unsolved)
    assert told.reason.startswith("No direct current reaches the gate of Q1")
    assert hanging.two_port([part.value for part in hanging.parts], 1e6) == told
    # A coil at no frequency at all.
    wound = Variants(MADE["feedback_transformer"])
    assert "no single answer" in wound.two_port([part.value for part in wound.parts], 0.0).reason


@pytest.mark.parametrize("name", ["2n3904", "j310", "2n7000"])
@pytest.mark.parametrize("sign", [1, -1])
def test_the_first_order_is_that_of_the_whole_series(name, sign):
    device = replace(devices()[name].model, sign=sign)
    for u, w in ((0.61, 4.0), (0.66, 0.1), (-2.0, 6.0), (2.4, 8.0), (0.3, -0.4)):
        series = taylor(device, sign * u, sign * w)
        expected = [series.output[0, 0], series.control[0, 0]]
        expected += [each[at] for each in (series.output, series.control) for at in ((1, 0), (0, 1))]
        np.testing.assert_allclose(first_order(device, sign * u, sign * w), expected, rtol=1e-12)
