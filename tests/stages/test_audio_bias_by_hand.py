"""Resistors of audio stages: what flows at rest, by the currents of every node, and what cannot be made."""

from math import sqrt

import pytest

from core.circuits.circuit import THERMAL_V
from core.model.stages.audio import BuiltAudio
from core.stages.audio.voltage_bias import Start
from core.stages.outcome import Unsolved
from core.trade.audio import audio_chips
from core.trade.devices import devices

#: Between base and emitter in the stages' first values [V].
BASE_V = 0.66


def resistors(of="2n3904", **fields):
    """A stage's resistors by role, or by role and number, or why there are none."""
    given = {"id": "a", "name": "A", "feed_ohm": 100.0, "supply_v": 12.0, "current_a": 1e-3}
    stage = BuiltAudio(**given | fields)
    values = {}
    refused = Start(stage, devices()[of] if of in devices() else audio_chips()[of]).bias(values)
    found = {role if which is None else f"{role}:{which}": ohm for (role, which), ohm in values.items()}
    return found if refused is None else refused


@pytest.mark.parametrize("input_ohm", [2e3, 10e3, 1e6])
def test_a_single_transistors_divider_holds_its_base_and_makes_its_input(input_ohm):
    ohm = resistors(topology="single", gain_db=20.0, input_ohm=input_ohm)
    model = devices()["2n3904"].model
    base_a, left_v = 1e-3 / model.current_gain, 12.0 - 100.0 * 1e-3
    base_v = ohm["emitter:1"] * 1e-3 + BASE_V
    through = base_v / ohm["bias_lower"]
    assert (left_v - base_v) / ohm["bias_upper"] == pytest.approx(through + base_a)
    assert ohm["emitter:1"] * 1e-3 == pytest.approx(0.12 * left_v)
    # Half of what is left falls across the load, and the gain is the load's over what is not bypassed.
    assert ohm["load"] * 1e-3 == pytest.approx(0.5 * (left_v - ohm["emitter:1"] * 1e-3))
    assert ohm["load"] / ohm["degeneration"] == pytest.approx(10.0)
    own = model.current_gain * (THERMAL_V / 1e-3 + ohm["degeneration"])
    seen = 1 / (1 / own + 1 / ohm["bias_lower"] + 1 / ohm["bias_upper"])
    if input_ohm == 10e3:
        # The base's current takes a hair off the upper resistor.
        assert seen == pytest.approx(input_ohm, rel=0.03)
    else:
        # As far as a divider goes that still holds the base, and wastes nothing.
        assert through == pytest.approx({2e3: 60.0, 1e6: 6.0}[input_ohm] * base_a)


def test_no_more_gain_than_without_any_resistor():
    ohm = resistors(topology="single", gain_db=80.0)
    assert ohm["degeneration"] == 1.0


def test_a_jfets_source_stands_where_its_square_law_has_it():
    model = devices()["j310"].model
    ohm = resistors("j310", topology="single", gain_db=10.0, input_ohm=470e3, current_a=3e-3)
    source_v = 3e-3 * (ohm["source"] + ohm["degeneration"])
    assert model.slope_a_v2 * (-source_v - model.threshold_v) ** 2 == pytest.approx(3e-3)
    assert ohm["source"] == pytest.approx(9 * ohm["degeneration"])
    assert ohm["bias_gate"] == 470e3
    # Half of what is left beyond the knee, where the drain stands as far above the gate as the gate does.
    room_v = 12.0 - 100.0 * 3e-3 - source_v - sqrt(3e-3 / model.slope_a_v2)
    assert 3e-3 * ohm["load"] == pytest.approx(0.5 * room_v)


def test_a_jfet_gives_nine_tenths_of_what_it_has_at_most():
    full_a = devices()["bf245b"].model.slope_a_v2 * devices()["bf245b"].model.threshold_v ** 2
    fields = {"topology": "single", "feed_ohm": 1.0, "supply_v": 24.0}
    ohm = resistors("bf245b", current_a=0.89 * full_a, **fields)
    assert ohm["load"] > 0
    refused = resistors("bf245b", current_a=0.92 * full_a, **fields)
    assert isinstance(refused, Unsolved)
    assert "at most; ask for a smaller current" in refused.reason


@pytest.mark.parametrize("second_a", [None, 2e-3])
def test_a_pairs_second_transistor_feeds_the_firsts_base(second_a):
    ohm = resistors(topology="pair", gain_db=30.0, second_a=second_a)
    gain = devices()["2n3904"].model.current_gain
    # A quarter more than the first unless another is asked.
    second = 1.25e-3 if second_a is None else second_a
    left_v = 12.0 - 100.0 * (1e-3 + second)
    first_base, second_base = 1e-3 / gain, second / gain
    collector_v = left_v - ohm["load"] * (1e-3 + second_base)
    assert collector_v == pytest.approx(0.4 * left_v)
    upper_v = collector_v - BASE_V
    lower_v = upper_v - ohm["emitter:1"] * second
    assert lower_v == pytest.approx(ohm["emitter:2"] * (second - first_base))
    assert lower_v - first_base * ohm["feedback"] == pytest.approx(1e-3 * ohm["degeneration"] + BASE_V)
    assert first_base * ohm["feedback"] <= 0.5


def test_a_pair_without_room_between_its_emitters_is_refused():
    """Of 12 V the first collector has 40 %, less a junction; its own emitter's and base's come first."""
    refused = resistors(topology="pair", gain_db=0.0)
    assert isinstance(refused, Unsolved)
    assert "leave the transistor no room" in refused.reason


def test_an_operational_amplifiers_feedback_is_its_gain():
    for gain_db, feedback in ((0.6, 4.7e3), (20.0, 680.0 * 9), (60.0, 100e3)):
        ohm = resistors("ne5532", topology="operational", gain_db=gain_db, input_ohm=47e3)
        assert 1 + ohm["feedback"] / ohm["gain_resistor"] == pytest.approx(10 ** (gain_db / 20))
        assert ohm["feedback"] == pytest.approx(feedback)
        assert ohm["bias_upper"] == ohm["bias_lower"]
    refused = resistors("ne5532", topology="operational", gain_db=0.4)
    assert "amplifies by 0.5 dB at least" in refused.reason
