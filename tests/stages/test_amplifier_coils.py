"""Choke and output transformer of an amplifier on a core."""

from math import pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.circuits.active.two_port import two_port
from core.model.stages.built_amplifier import BuiltAmplifier
from core.stages.amplifiers.coils import FIRST, SECOND
from core.stages.amplifiers.design import design
from core.stages.outcome import Unsolved
from core.trade.cores import cores

FERRITES = [name for name, core in cores().items() if core.of.family == "ferrite"]


def amplifier(topology, core):
    device = "j310" if topology == "common_gate" else "2n3904"
    return BuiltAmplifier(id="a", name="A", topology=topology, device=device, gain_db=15.0, core=core)


def test_a_choke_has_the_fewest_whole_turns_that_do():
    """47 µH want 11.2 turns on FT37-43, and 12 make 54 µH."""
    made = design(amplifier("feedback", "FT37-43"))
    ((name, wound),) = made.wound
    choke = next(row for row in made.parts if row.role == "choke")
    assert (name, wound.turns) == ("LC", 12)
    assert choke.fitted == pytest.approx(144 * cores()["FT37-43"].al_h)
    assert choke.fitted >= 47e-6 > 121 * cores()["FT37-43"].al_h
    assert choke.note.startswith("12 turns on FT37-43, ")
    assert next(b.part.value for b in made.circuit.branches if b.part.ref == "LC") == choke.fitted


@pytest.mark.parametrize(("topology", "ratio"), [("feedback_transformer", 2), ("common_gate", 4)])
def test_a_transformer_has_whole_turns_in_its_ratio_and_enough_for_160_m(topology, ratio):
    made = design(amplifier(topology, "FT37-43"))
    wound = dict(made.wound)
    assert wound[FIRST].turns == ratio * wound[SECOND].turns
    assert 2 * pi * 1.8e6 * wound[SECOND].inductance_h >= 4 * 50.0
    coils = next(b.part for b in made.circuit.branches if b.part.role == "output_transformer")
    assert coils.secondary_h == wound[SECOND].inductance_h
    assert coils.primary_h == pytest.approx(wound[FIRST].inductance_h)
    note = next(row.note for row in made.parts if row.role == "output_transformer")
    assert note.startswith(f"{wound[FIRST].turns} and {wound[SECOND].turns} turns on FT37-43, ")


def test_whole_turns_beyond_the_least_shunt_the_lowest_band_less():
    """The simple choice is the least inductance that does."""
    low, high = np.array([1.8e6]), np.array([10e6])

    def sag(core):
        circuit = design(amplifier("feedback_transformer", core)).circuit
        at = [two_port(circuit, f).gain_db(50.0, 50.0)[0] for f in (low, high)]
        return at[1] - at[0]

    assert sag("BN-43-202") < sag("")


def test_a_core_that_does_not_hold_the_turns_is_refused_with_their_number():
    found = design(amplifier("feedback_transformer", "T25-10"))
    assert isinstance(found, Unsolved)
    assert found.reason.startswith("291 turns do not fit into T25-10")
    assert "no core called" in design(amplifier("feedback", "none such")).reason


@pytest.mark.parametrize("topology", ["three_transistors", "emitter_follower"])
def test_a_circuit_without_coils_does_not_care(topology):
    stage = amplifier(topology, "FT37-43")
    assert "core" in stage.idle_fields
    assert design(stage).wound == ()


@given(st.sampled_from(FERRITES), st.sampled_from(["feedback", "feedback_transformer", "common_gate"]))
def test_any_ferrite_either_holds_its_turns_or_says_so(core, topology):
    made = design(amplifier(topology, core))
    if isinstance(made, Unsolved):
        assert core in made.reason
        return
    for _, wound in made.wound:
        assert wound.filled <= 1.0
        assert wound.inductance_h == pytest.approx(cores()[core].al_h * wound.turns**2)
