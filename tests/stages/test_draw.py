"""What stages draw from their supply: by their circuits' direct currents, or nothing, or not known."""

import pytest

from core.model.stages.amplifiers import Amplifier, PowerAmplifier
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.stages.built_amplifier import BuiltAmplifier
from core.model.stages.mixers import Mixer
from core.model.stages.oscillators import Vfo
from core.model.stages.tank import Feedback, Tank
from core.stages.amplifiers import design as amplifier
from core.stages.kinds.draw import vfo_draw
from core.stages.kinds.kind import Surroundings
from core.stages.kinds.table import KINDS, kind_of

AROUND = Surroundings(if_hz=9e6, bands=(), capacitors_f=())


def draw(stage, way="receive", supply_v=12.0):
    return kind_of(stage).draws(stage, AROUND, way, supply_v)


def test_a_built_amplifier_draws_what_leaves_its_rail():
    """Current through the collectors' parts and the divider, counted at the transistors' emitters."""
    stage = BuiltAmplifier(id="a", name="A", topology="feedback", current_a=20e-3)
    made = amplifier.design(stage)
    found = draw(stage)
    assert found.made_for_v == 12.0
    # All current goes to ground by emitter and lower divider resistor.
    ohm = {(row.role, row.which): row.fitted for row in made.parts}
    volts = made.rest.volts
    base = next(b.nodes[1] for b in made.circuit.branches if b.part.ref == "Q1")
    emitter_a = sum(
        made.rest.transistors[ref].output_a + made.rest.transistors[ref].control_a
        for ref in made.rest.transistors
    )
    assert found.rest_a == pytest.approx(emitter_a + volts[base] / ohm["bias_lower", None], rel=1e-3)


def test_on_another_supply_the_circuit_itself_draws_another_current():
    """A divider holds the base at a share of the supply: Ic follows (V share − Vbe), so by more than V."""
    stage = BuiltAmplifier(id="a", name="A", topology="feedback", current_a=20e-3)
    at = {volt: draw(stage, supply_v=volt).rest_a for volt in (10.0, 12.0, 14.0)}
    assert at[10.0] < 10 / 12 * at[12.0]
    assert at[14.0] > 14 / 12 * at[12.0]
    assert at[12.0] == pytest.approx(amplifier.design(stage).supply_a)


def test_a_pair_draws_for_the_half_in_use_alone():
    stage = BilateralAmplifier(id="b", name="B", receive_gain_db=16, transmit_gain_db=20)
    alone = BuiltAmplifier(id="a", name="A", gain_db=16)
    one, other = draw(stage, "receive").rest_a, draw(stage, "transmit").rest_a
    assert one == pytest.approx(draw(alone).rest_a, rel=0.05)
    assert other == pytest.approx(one, rel=0.1)
    assert draw(stage, "receive", 9.0).rest_a < one


def test_what_needs_no_supply_says_so_and_what_cannot_tell_says_nothing():
    for kind in ("low_pass", "band_pass", "ladder", "attenuator", "gain_control"):
        assert draw(KINDS[kind].default((), 9e6)).most_a == 0.0
    assert draw(Mixer(id="m", name="M", type="ring")).most_a == 0.0
    assert draw(Mixer(id="m", name="M", type="transistor_array")) is None
    computed = Mixer(id="m", name="M", type="transistor_array", figures_from="circuit", tail_a=2e-3)
    # The tail's current and half as much in the divider, on preferred values.
    assert draw(computed, "receive", 12.0).rest_a == pytest.approx(3e-3, rel=0.06)
    assert draw(computed, "receive", 9.0).rest_a == pytest.approx(3e-3 * 9 / 12, rel=0.15)
    assert draw(Amplifier(id="a", name="A")) is None


def test_ten_watts_at_half_and_at_three_fifths():
    """1.449 A and 1.208 A from 13.8 V: power over efficiency and voltage."""
    for efficiency, ampere in ((0.5, 1.449), (0.6, 1.208)):
        stage = PowerAmplifier(id="p", name="P", rated_w=10, efficiency=efficiency)
        assert draw(stage, "transmit", 13.8).most_a == pytest.approx(ampere, abs=5e-4)


def test_a_vfo_draws_its_devices_current_and_its_divider():
    jfet = Vfo(tank=Tank(feedback=Feedback(device="j310", bias_ohm=2200, supply_v=8.0)))
    # Id = IDSS (1 − Id R/Vp)² with 35 mA, 4 V, 2.2 kΩ.
    assert vfo_draw(jfet, 8.0).rest_a == pytest.approx(1.44832e-3, rel=1e-5)
    assert vfo_draw(jfet, 6.0).rest_a == vfo_draw(jfet, 8.0).rest_a
    bipolar = Vfo(
        tank=Tank(feedback=Feedback(device="2n3904", beta=1e4, base_upper_ohm=22e3, base_lower_ohm=22e3))
    )
    # Half the supply less 0.7 V at the 470 ohm, and 8 V over 44 kΩ beside it.
    assert vfo_draw(bipolar, 8.0).rest_a == pytest.approx(3.3 / 470 + 8 / 44e3, rel=0.02)
    assert vfo_draw(Vfo(), 8.0) is None
