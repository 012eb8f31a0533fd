"""What each part does to an amplifier: against solving it anew, closed forms, and what must do nothing."""

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest

from core.circuits.active.linear import linear
from core.circuits.active.nudged import nudged
from core.circuits.active.operating import bias
from core.circuits.active.two_port import alike, two_port
from core.circuits.circuit import Bipolar, Part, Transistor
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.stages.built_amplifier import BuiltAmplifier
from core.stages.amplifiers import pair
from core.stages.amplifiers.design import design
from core.stages.amplifiers.sensitivity import Sensitivity, sensitivities, spread_db

SHARE = 2e-3


def made(topology="three_transistors", **fields):
    device = {"common_gate": "j310", "source_follower": "j310", "common_source": "rd16hhf1"}.get(
        topology, "2n3904"
    )
    asked = {"device": device, "current_a": 13e-3, "gain_db": 14.0} | fields
    return design(BuiltAmplifier(id="a", name="A", topology=topology, **asked))


def changed(circuit, ref):
    """The circuit with a part larger by a share, solved from nothing."""
    branches = []
    for branch in circuit.branches:
        part = branch.part
        if part.ref == ref and isinstance(part, Part):
            part = replace(part, value=part.value * (1 + SHARE))
        elif part.ref == ref and isinstance(part, Transistor) and isinstance(part.device, Bipolar):
            device = replace(part.device, current_gain=part.device.current_gain * (1 + SHARE))
            part = replace(part, device=device)
        elif part.ref == ref and isinstance(part, Transistor):
            device = replace(part.device, slope_a_v2=part.device.slope_a_v2 * (1 + SHARE))
            part = replace(part, device=device)
        elif part.ref == ref:
            part = replace(
                part, primary_h=part.primary_h * (1 + SHARE), secondary_h=part.secondary_h * (1 + SHARE)
            )
        branches.append(replace(branch, part=part))
    return replace(circuit, branches=tuple(branches))


@pytest.mark.parametrize(
    "topology",
    [
        "three_transistors",
        "feedback",
        "feedback_transformer",
        "common_gate",
        "emitter_follower",
        "source_follower",
    ],
)
def test_it_is_what_solving_anew_gives(topology):
    amplifier = made(topology, current_a=5e-3 if "follower" in topology else 13e-3)
    found = sensitivities(amplifier, 14e6)
    before = two_port(amplifier.circuit, [14e6])
    assert {each.ref for each in found} == {branch.part.ref for branch in amplifier.circuit.branches}
    for each in found:
        other = changed(amplifier.circuit, each.ref)
        after = two_port(other, [14e6])
        scale = 0.1 / SHARE
        told = scale * (after.gain_db(50, 50)[0] - before.gain_db(50, 50)[0])
        assert each.gain_db == pytest.approx(told, rel=0.02, abs=2e-3)
        told = scale * (after.noise_figure_db(50)[0] - before.noise_figure_db(50)[0])
        assert each.noise_db == pytest.approx(told, rel=0.02, abs=2e-3)
        told = scale * (abs(after.input_ohm(50)[0] / before.input_ohm(50)[0]) - 1)
        assert each.input_share == pytest.approx(told, rel=0.02, abs=2e-4)
        told = scale * (abs(after.output_ohm(50)[0] / before.output_ohm(50)[0]) - 1)
        assert each.output_share == pytest.approx(told, rel=0.02, abs=2e-4)
        drawn, was = (sum(bias(c).rails_a.values()) for c in (other, amplifier.circuit))
        assert each.supply_share == pytest.approx(scale * (drawn / was - 1), rel=0.02, abs=2e-4)
    weights = [each.weight_db for each in found]
    assert weights == sorted(weights, reverse=True)


def test_what_matters_is_what_a_builder_expects():
    """Gain stands on feedback, degeneration, collector and output resistors; coupling does nothing."""
    found = sensitivities(made(), 10e6)
    assert {each.ref for each in found[:4]} == {"RF", "RD", "RC", "RO"}
    by = {each.ref: each for each in found}
    assert by["RF"].gain_db > 0 > by["RD"].gain_db
    assert abs(by["C1"].gain_db) < 1e-3
    # A follower's output divides by RO and 50 ohm: 20 lg of (RO + 50)/(1.1 RO + 50), all else alike.
    ohm = next(row.fitted for row in made().parts if row.role == "output_resistor")
    inner = two_port(made().circuit, [10e6]).output_ohm(50)[0].real - ohm
    told = 20 * np.log10((ohm + inner + 50) / (1.1 * ohm + inner + 50))
    assert by["RO"].gain_db == pytest.approx(told, rel=0.06)
    assert by["Q1"].what == "β"
    assert sensitivities(made("common_gate"), 10e6)[0].what == "current"


def test_the_half_that_is_off_does_its_share():
    found = pair.design(BilateralAmplifier(id="p", name="P", current_a=13e-3))
    by = {each.ref: each for each in sensitivities(found.receive, 10e6)}
    # RE6 and RO2 of the unfed half lie across the terminals; its transistors' current gain does nothing.
    assert by["RE6"].gain_db > 0.01
    assert by["Q5"].gain_db == pytest.approx(0.0, abs=1e-9)
    assert by["RE6"].supply_share == pytest.approx(0.0, abs=1e-9)


def test_bias_follows_to_the_first_order():
    circuit = made("feedback").circuit
    rest = bias(circuit)
    branch = next(each for each in circuit.branches if each.part.ref == "RB1")
    larger = replace(branch, part=replace(branch.part, value=branch.part.value * 1.0001))
    (moved,) = nudged(circuit, rest, [(branch, larger)])
    told = bias(replace(circuit, branches=tuple(larger if b is branch else b for b in circuit.branches)))
    for ref, point in told.transistors.items():
        step = point.output_a - rest.transistors[ref].output_a
        assert moved.transistors[ref].output_a - rest.transistors[ref].output_a == pytest.approx(
            step, rel=1e-3
        )
    for node, volt in told.volts.items():
        assert moved.volts[node] == pytest.approx(volt, abs=1e-7)


def test_circuits_solved_together_are_those_solved_alone():
    one, other = made("feedback").circuit, changed(made("feedback").circuit, "RF")
    found = alike([linear(one), linear(other)], 7e6)
    for n, circuit in enumerate((one, other)):
        alone = two_port(circuit, [7e6])
        np.testing.assert_allclose(found.chain[..., n], alone.chain[..., 0], rtol=1e-12)
        np.testing.assert_allclose(found.noise[..., n], alone.noise[..., 0], rtol=1e-12)


def test_spreads_add_as_powers():
    def part(ref, gain_db, what=""):
        return Sensitivity(
            ref=ref,
            what=what,
            gain_db=gain_db,
            input_share=0.0,
            output_share=0.0,
            noise_db=0.0,
            supply_share=0.0,
        )

    # Within ±5 % half of what 10 % do; evenly spread, a deviation of 1/√3.
    found = (part("R1", 0.6), part("R2", -0.8), part("Q1", 5.0, "current gain"))
    assert spread_db(found, 0.05) == pytest.approx(0.5 / sqrt(3))
