"""What is said of a supply, and that each remedy mends it."""

import pytest

from core.model.supply.source import Fuse
from core.model.supply.supply import Regulator, Relay
from core.rig.analysis import Analysis
from core.rig.findings import RULES
from core.rig.rules.power import contacts, fed, regulators, supply, switching
from tests.spoilt import SPOILT

MODULES = {module.__name__ for module in (contacts, fed, regulators, supply, switching)}
POWER = [rule for rule in RULES if rule.__module__ in MODULES]


def told(project):
    analysis = Analysis(project)
    return [each for rule in POWER for each in rule(analysis) if each is not None]


def of_rule(project, rule):
    return [each for each in told(project) if each.rule == rule]


#: How a rig is spoilt, and what must then be said with a remedy that applies itself.
SAID = {
    "contacts too small": "contacts_small",
    "no fuse": "fuse_missing",
    "small fuse": "fuse_small",
    "large fuse": "fuse_large",
    "a fuse that nobody makes": "fuse_not_made",
    "backwards": "wrong_polarity",
    "a long thin lead": "lead_loses",
    "nominal above full": "nominal_outside",
    "a battery that gives way": "rig_starves",
    "a chip for 12 V": "fed_with_too_much",
    "a regulator without room": "regulator_room",
    "a hot regulator": "regulator_hot",
    "a regulator of another voltage": "regulator_overloaded",
    "a relay for 24 V": "relay_not_held",
    "a bare coil": "coil_bare",
    "a stage fed in receive": "stage_not_fed",
    "a stage fed in both": "stage_fed_idle",
    "a regulator off in transmit": "stage_not_fed",
    "a current that nobody knows": "currents_unknown",
    "a VFO for 5 V on 8 V": "fed_otherwise",
    "a regulator for a stage that is gone": "fed_by_name",
    "power at once": "receiver_hit",
    "relay let go at once": "switched_under_power",
    "heard too soon": "heard_while_switching",
    "no antenna relay": "antenna_relay_missing",
}


@pytest.mark.parametrize("name", SAID)
def test_every_remedy_mends_what_it_is_for(tern, name):
    project = SPOILT[name](tern)
    assert of_rule(tern, SAID[name]) == []
    found = of_rule(project, SAID[name])
    assert found, name
    before = {(each.rule, each.subject) for each in told(project)}
    for each in found:
        assert each.edits, each.text
        for edit in each.edits:
            mended = edit.on(project)
            after = told(mended)
            assert each.key not in [one.key for one in after], f"{edit.label}: {each.text}"
            brought = {
                (one.rule, one.subject)
                for one in after
                if one.severity == "fault" and (one.rule, one.subject) not in before
            }
            assert brought == set(), edit.label


def test_the_sample_is_fed_as_it_should_be(tern):
    assert [each.rule for each in told(tern)] == ["source_safety"]


def test_a_rig_without_a_supply_is_told_nothing_of_it(tern):
    assert told(tern.edited(("supply",), None)) == []


def test_a_battery_without_a_fuse_is_a_fault_with_its_short_circuit(tern):
    (found,) = of_rule(SPOILT["no fuse"](tern), "fuse_missing")
    assert found.severity == "fault"
    # 14.4 V over 30 mΩ of battery, 20 mΩ of contacts and 39.5 mΩ of lead.
    assert found.figure == pytest.approx(14.4 / 0.08952, rel=1e-3)
    assert found.limit == 13.0
    assert found.edits[0].label == "Put in a blade fuse of 3 A"


def test_a_fuse_below_the_running_current_is_a_fault_and_close_to_it_a_caution(tern):
    at = ("supply", "fuse", "rated_a")
    severities = [
        [each.severity for each in of_rule(tern.edited(at, rated), "fuse_small")] for rated in (1.0, 2.0, 3.0)
    ]
    assert severities == [["fault"], ["caution"], []]


def test_a_fuse_is_larger_than_a_thin_lead_bears(tern):
    (found,) = of_rule(tern.edited(("supply", "lead", "gauge"), 24), "fuse_large")
    assert (found.figure, found.limit) == (3.0, 2.0)
    assert found.edits[0].label == "Take a lead of AWG 22"


def test_a_diode_that_dies_before_the_fuse_opens(tern):
    rig = tern.edited(("supply", "fuse"), Fuse(type="glass_slow", rated_a=2.5))
    rig = rig.edited(("supply", "polarity", "diode"), "1n4001")
    (found,) = of_rule(rig, "wrong_polarity")
    assert "the diode bears" in found.text
    assert [edit.label for edit in found.edits][:1] == ["Take a diode 1N5404 for it"]


def test_a_regulator_that_overheats_is_told_its_sink(tern):
    hot = Regulator(name="8 V", type="78", feeds=("read_out",))
    rig = tern.edited(("supply", "regulators"), (hot,))
    loads = [each for each in rig.supply.loads if each.of != "read_out"]
    old = next(each for each in rig.supply.loads if each.of == "read_out")
    rig = rig.edited(("supply", "loads"), (*loads, old.edited(("receive_a",), 0.25)))
    (found,) = of_rule(rig, "regulator_hot")
    # (14.3 − 8) V times 250 mA, and 5 mA of its own.
    assert found.figure == pytest.approx(40 + 65 * (6.32 * 0.25 + 0.072), rel=0.02)
    assert found.edits[0].label.startswith("Give it a heat sink of ")


def test_a_transistor_that_drives_a_bare_coil_sees_kilovolts(tern):
    (found,) = of_rule(SPOILT["a bare coil"](tern), "coil_bare")
    # I √(L/C), 40 mA, 0.3 H and 100 pF, on top of 14.4 V.
    assert found.figure == pytest.approx(0.04 * 3e9**0.5 + 14.4, rel=1e-3)
    by_hand = tern.edited(("supply", "relays", 0, "suppressor"), "none")
    assert of_rule(by_hand.edited(("supply", "relays", 0, "driven_by"), "contact"), "coil_bare") == []


def test_power_before_the_relay_is_told_as_all_of_the_output(tern):
    (found,) = of_rule(SPOILT["power at once"](tern), "receiver_hit")
    assert found.figure == pytest.approx(39.03, abs=0.01)
    assert found.edits[0].label.startswith("Let power come 13 ms after key down")


def test_one_relay_for_everything_is_taken_apart(tern):
    rig = tern.edited(("supply", "relays"), (Relay(switches="antenna_and_supplies"),))
    (found,) = of_rule(rig, "switched_under_power")
    assert found.figure == pytest.approx(3.0)
    mended = found.edits[0].on(rig)
    assert mended.supply.relays[0].switches == "antenna"
    assert of_rule(mended, "switched_under_power") == []


def test_a_limited_supply_may_not_open_the_fuse(tern):
    rig = tern.edited(("supply", "source", "type"), "regulated").edited(("supply", "source", "limit_a"), 5.0)
    assert of_rule(rig, "fuse_never_opens") == []
    (found,) = of_rule(rig.edited(("supply", "fuse", "rated_a"), 5.0), "fuse_never_opens")
    assert (found.figure, found.limit) == (5.0, 5.0)
    assert found.edits[0].label == "Take a fuse of 3 A"


def test_a_small_supply_starves_the_rig(tern):
    rig = SPOILT["a supply that limits"](tern)
    (found,) = of_rule(rig, "supply_gives_too_little")
    assert found.figure > found.limit == 1.0


def test_a_mains_supply_is_warned_of(tern):
    (found,) = of_rule(SPOILT["a mains supply"](tern), "source_safety")
    assert found.text.startswith("Mains voltage kills")


def test_a_chip_for_twelve_volts_is_hung_on_a_regulator(tern):
    (found,) = of_rule(SPOILT["a chip for 12 V"](tern), "fed_with_too_much")
    assert found.stage == "speaker_chip"
    assert found.severity == "fault"
    # The full battery's 14.4 V, less what the lead loses in receive.
    assert found.figure == pytest.approx(14.4, abs=0.05)
    assert found.limit == 12.0
    mended = found.edits[0].on(SPOILT["a chip for 12 V"](tern))
    assert "speaker_chip" in [key for each in mended.supply.regulators for key in each.feeds]
    assert of_rule(mended, "fed_with_too_much") == []


def test_a_battery_that_gives_way_is_told_what_it_may_have(tern):
    (found,) = of_rule(SPOILT["a battery that gives way"](tern), "rig_starves")
    assert found.limit == pytest.approx(1.38)
    assert found.edits[0].label.startswith("Take a source of ")


def test_a_stage_behind_the_carrier_is_no_stranger(tern):
    """Oscillators and read-out can hang on a regulator as stages can."""
    rig = tern.edited(("supply", "regulators", 0, "feeds"), ("vfo", "carrier", "read_out", "mixer"))
    assert of_rule(rig, "fed_by_name") == []


def test_a_helper_that_the_rig_has_not_is_a_stranger(tern):
    feeds = ("supply", "regulators", 0, "feeds")
    rig = tern.edited(("read_out", "helper"), None).edited(feeds, ("vfo", "carrier", "helper"))
    (found,) = of_rule(rig, "fed_by_name")
    assert found.text.endswith("feeds helper, which the rig has not.")
    assert found.edits[0].on(rig).at(feeds) == ("vfo", "carrier")
