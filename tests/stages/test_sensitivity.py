"""What each part does to an amplifier: against solving it anew, closed forms, and what must do nothing."""

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest

from core.circuits.active.large_signal import limits, third_order
from core.circuits.active.linear import around
from core.circuits.active.many import at_rest, only
from core.circuits.active.operating import bias
from core.circuits.active.two_port import of_linear, two_port
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


def changed(circuit, ref, share=SHARE):
    """The circuit with a part larger by a share, solved from nothing."""
    branches = []
    for branch in circuit.branches:
        part = branch.part
        if part.ref == ref and isinstance(part, Part):
            part = replace(part, value=part.value * (1 + share))
        elif part.ref == ref and isinstance(part, Transistor) and isinstance(part.device, Bipolar):
            device = replace(part.device, current_gain=part.device.current_gain * (1 + share))
            part = replace(part, device=device)
        elif part.ref == ref and isinstance(part, Transistor):
            device = replace(part.device, slope_a_v2=part.device.slope_a_v2 * (1 + share))
            part = replace(part, device=device)
        elif part.ref == ref:
            part = replace(
                part, primary_h=part.primary_h * (1 + share), secondary_h=part.secondary_h * (1 + share)
            )
        branches.append(replace(branch, part=part))
    return replace(circuit, branches=tuple(branches))


def intercept_dbm(circuit):
    return third_order(circuit, 0.99 * 14e6, 1.01 * 14e6).output_dbm


def first_dbm(circuit):
    return next(each.output_dbm for each in limits(circuit, 14e6) if each.what != "off")


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
        back = [20 * np.log10(abs(port.s(50.0)[0, 1, 0])) for port in (before, after)]
        assert each.reverse_db == pytest.approx(scale * (back[1] - back[0]), rel=0.02, abs=2e-3)
        told = scale * (after.noise_figure_db(50)[0] - before.noise_figure_db(50)[0])
        assert each.noise_db == pytest.approx(told, rel=0.02, abs=2e-3)
        told = scale * (abs(after.input_ohm(50)[0] / before.input_ohm(50)[0]) - 1)
        assert each.input_share == pytest.approx(told, rel=0.02, abs=2e-4)
        told = scale * (abs(after.output_ohm(50)[0] / before.output_ohm(50)[0]) - 1)
        assert each.output_share == pytest.approx(told, rel=0.02, abs=2e-4)
        told = scale * (intercept_dbm(other) - intercept_dbm(amplifier.circuit))
        assert each.intercept_db == pytest.approx(told, rel=0.02, abs=2e-3)
        told = scale * (first_dbm(other) - first_dbm(amplifier.circuit))
        assert each.compression_db == pytest.approx(told, rel=0.02, abs=2e-3)
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


@pytest.mark.parametrize(
    "topology", ["feedback_transformer", "three_transistors", "common_gate", "common_source"]
)
def test_circuits_solved_together_are_those_solved_alone(topology):
    """Parts and transistors' gains two thirds to one and a half: state at rest, two-port, noise."""
    circuit = made(topology).circuit
    generator = np.random.default_rng(3)
    trials, f = 5, [3.5e6, 28e6]
    times = {}
    for branch in circuit.branches:
        ref = branch.part.ref
        keys = (f"{ref}.gain",) if isinstance(branch.part, Transistor) else (ref,)
        times |= {key: np.exp(generator.uniform(-0.4, 0.4, trials)) for key in keys}
    rests, settled = at_rest(circuit, bias(circuit), times)
    assert settled.all()
    linear = around(circuit, rests, times)
    port = of_linear(linear, f)
    for n in range(trials):
        one = circuit
        for key, each in times.items():
            one = changed(one, key.removesuffix(".gain"), each[n] - 1)
        alone, rest = two_port(one, f), bias(one)
        for ref, point in rest.transistors.items():
            assert rests.transistors[ref].output_a[n] == pytest.approx(point.output_a, rel=1e-7)
        for node, volt in rest.volts.items():
            assert rests.volts[node][n] == pytest.approx(volt, rel=1e-8, abs=1e-8)
        for node, ampere in rest.rails_a.items():
            assert rests.rails_a[node][n] == pytest.approx(ampere, rel=1e-7)
        np.testing.assert_allclose(port.chain[:, :, n], alone.chain, rtol=1e-6)
        np.testing.assert_allclose(port.noise[:, :, n], alone.noise, rtol=1e-6)


def test_one_that_has_no_state_at_rest_leaves_the_others_theirs():
    circuit = made("feedback").circuit
    times = {"RB1": np.array([1.0, np.nan, 1.0])}
    rests, settled = at_rest(circuit, bias(circuit), times)
    assert settled.tolist() == [True, False, True]
    linear = around(circuit, rests, only(times, settled))
    gain = of_linear(linear, [14e6]).gain_db(50, 50)[:, 0]
    assert gain == pytest.approx([two_port(circuit, [14e6]).gain_db(50, 50)[0]] * 2, rel=1e-9)


def test_spreads_add_as_powers():
    def part(ref, gain_db, what=""):
        return Sensitivity(
            ref=ref,
            what=what,
            gain_db=gain_db,
            reverse_db=0.0,
            input_share=0.0,
            output_share=0.0,
            noise_db=0.0,
            intercept_db=0.0,
            compression_db=0.0,
            supply_share=0.0,
        )

    # Within ±5 % half of what 10 % do; evenly spread, a deviation of 1/√3.
    found = (part("R1", 0.6), part("R2", -0.8), part("Q1", 5.0, "current gain"))
    assert spread_db(found, 0.05) == pytest.approx(0.5 / sqrt(3))
