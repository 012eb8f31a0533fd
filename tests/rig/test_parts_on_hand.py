"""The parts list against the junk box: what is on hand, what is to buy; and a rig that takes it first."""

import csv
from dataclasses import replace
from io import StringIO

import numpy as np
import pytest

from core.circuits.active.two_port import two_port
from core.circuits.circuit import Branch, Circuit, Part
from core.model.notebook.junk_box import (
    CapacitorOnHand,
    CoreOnHand,
    CrystalOnHand,
    JunkBox,
    TransistorOnHand,
    VariableOnHand,
    WireOnHand,
)
from core.model.stages.built_power_amplifier import BuiltPowerAmplifier
from core.rig.analysis import Analysis
from core.rig.paper.needed import needed_of
from core.rig.paper.parts_list import parts_csv, parts_list
from core.stages.outcome import FilterDesign

E12 = (
    10,
    12,
    15,
    18,
    22,
    27,
    33,
    39,
    47,
    56,
    68,
    82,
    100,
    120,
    150,
    180,
    220,
    270,
    330,
    390,
    470,
    560,
    680,
    820,
)


def drawer(many=40):
    return tuple(CapacitorOnHand(capacitance_f=1e-12 * each, count=many) for each in E12)


def test_without_a_junk_box_everything_is_to_buy(tern):
    listed = parts_list(Analysis(tern.edited(("junk_box",), JunkBox())))
    assert all(each.on_hand == 0 for each in listed)
    for each in listed:
        assert each.to_buy == (0 if each.part.as_built is not None else len(each.part.soldered))


def test_counts_are_subtracted_until_nothing_is_left(tern):
    ladder = tern.stage("ladder")
    crystals = [each for each in parts_list(Analysis(tern)) if each.part.kind == "crystal"]
    assert len(crystals) == ladder.poles
    for many in (0, 3, 100):
        box = JunkBox(parts=(CrystalOnHand(frequency_hz=tern.if_hz, count=many),))
        listed = parts_list(Analysis(tern.edited(("junk_box",), box)))
        taken = [each for each in listed if each.part.kind == "crystal"]
        assert sum(each.on_hand for each in taken) == min(many, len(crystals))
        assert sum(each.to_buy for each in taken) == len(crystals) - min(many, len(crystals))
    # Fifty kilohertz off is another crystal.
    box = JunkBox(parts=(CrystalOnHand(frequency_hz=tern.if_hz + 50e3, count=20),))
    listed = parts_list(Analysis(tern.edited(("junk_box",), box)))
    assert not any(each.on_hand for each in listed)


def test_a_kind_that_will_not_do_is_not_taken(tern):
    plain = next(
        each
        for each in parts_list(Analysis(tern))
        if each.stage == "ladder" and each.part.kind == "capacitor" and each.part.as_built is None
    )
    for type, taken in (("c0g", True), ("silver_mica", True), ("other", False), ("n150", False)):
        box = JunkBox(parts=(CapacitorOnHand(capacitance_f=plain.part.fitted, type=type, count=1),))
        listed = parts_list(Analysis(tern.edited(("junk_box",), box)))
        ladder = [each for each in listed if each.stage == "ladder"]
        assert any(each.on_hand for each in ladder) is taken


def test_transistors_and_cores_are_found_by_their_name(tern):
    rig = tern
    low_pass = next(stage for stage in rig.stages if stage.kind == "low_pass")
    rig = rig.edited(("stages", low_pass.id, "filters", 0, "core"), "T50-6")
    coils = [
        each
        for each in parts_list(Analysis(rig))
        if each.stage == low_pass.id and each.index == 0 and each.part.kind == "inductor"
    ]
    box = JunkBox(parts=(CoreOnHand(core="t50-6", count=2), TransistorOnHand(device="j310", count=1)))
    listed = parts_list(Analysis(rig.edited(("junk_box",), box)))
    found = [
        each
        for each in listed
        if each.stage == low_pass.id and each.index == 0 and each.part.kind == "inductor"
    ]
    assert len(coils) > 2
    assert [each.on_hand for each in found] == [1, 1] + [0] * (len(coils) - 2)
    transistors = [each for each in listed if each.part.kind == "transistor"]
    assert sum(each.on_hand for each in transistors) == any("J310" in each.part.note for each in transistors)


def test_the_csv_has_both_columns_and_they_add_up(tern):
    rig = tern.edited(("junk_box",), JunkBox(first=True, parts=drawer(), capacitors_f=(1e-9, 10e-9)))
    analysis = Analysis(rig)
    rows = list(csv.DictReader(StringIO(parts_csv(analysis))))
    listed = parts_list(analysis)
    assert sum(int(row["on hand"]) for row in rows) == sum(each.on_hand for each in listed) > 0
    assert sum(int(row["to buy"]) for row in rows) == sum(each.to_buy for each in listed) > 0
    for row, each in zip(rows, listed, strict=True):
        assert int(row["on hand"]) + int(row["to buy"]) == (
            0 if each.part.as_built is not None else len(each.part.soldered)
        )


def test_a_rig_that_takes_its_junk_box_first_buys_less(tern):
    filled = tern.edited(("junk_box",), JunkBox(parts=drawer()))
    for stage in filled.stages:
        if stage.kind == "ladder_filter":
            filled = filled.edited(("stages", stage.id, "capacitors"), "E24")
        for place, _ in enumerate(getattr(stage, "filters", ())):
            filled = filled.edited(("stages", stage.id, "filters", place, "capacitors"), "E24")
    first = filled.edited(("junk_box", "first"), True)
    before, after = (
        sum(each.to_buy for each in parts_list(Analysis(rig)) if each.part.kind == "capacitor")
        for rig in (filled, first)
    )
    assert after < before - 5
    for row in Analysis(first).filters:
        assert isinstance(row.design, FilterDesign)
    # Its tank tunes what it tuned.
    tank = Analysis(first).tank
    assert all(each.covers for each in tank.ranges)


def test_the_switch_off_changes_nothing(tern):
    plain = Analysis(tern.edited(("junk_box",), JunkBox()))
    filled = Analysis(tern.edited(("junk_box",), JunkBox(parts=drawer())))
    for one, other in zip(plain.filters, filled.filters, strict=True):
        assert one.design is other.design
    assert plain.tank is filled.tank


def test_counted_crystals_are_surveyed_and_help_the_read_out(tern):
    box = JunkBox(parts=(CrystalOnHand(frequency_hz=8.867238e6), CrystalOnHand(frequency_hz=5e6, count=0)))
    rig = tern.edited(("junk_box",), box)
    assert rig.junk_box.every_crystal_hz == (8.867238e6,)
    assert Analysis(rig.edited(("read_out", "helpers"), "junk_box"))._helper_crystals_hz == (8.867238e6,)


def test_a_helper_on_hand_comes_first_where_it_shows_as_many_bands(tern):
    rig = tern.edited(("read_out", "helpers"), "stock").edited(("read_out", "counter", "programmes"), 1)
    stock = Analysis(rig.edited(("junk_box",), JunkBox())).read_out
    assert stock.helper_hz is not None
    other = JunkBox(first=True, parts=(CrystalOnHand(frequency_hz=stock.helper_hz),))
    mine = Analysis(rig.edited(("junk_box",), other))
    assert mine._helper_crystals_hz == (stock.helper_hz,)
    assert mine.read_out.helper_hz == stock.helper_hz
    # One that shows fewer bands stays in its drawer; so does any without the switch.
    useless = JunkBox(first=True, parts=(CrystalOnHand(frequency_hz=2e3),))
    assert Analysis(rig.edited(("junk_box",), useless)).read_out == stock
    off = other.edited(("first",), False)
    assert len(Analysis(rig.edited(("junk_box",), off))._helper_crystals_hz) > 20


@pytest.mark.parametrize("many", [0, 1, 2])
def test_a_pair_in_parallel_is_two_pieces(tern, many):
    rig = tern.edited(("stages", "ladder", "capacitors"), "E12_pairs")
    pair = next(each for each in parts_list(Analysis(rig)) if len(each.part.soldered) == 2)
    parts = tuple(CapacitorOnHand(capacitance_f=each, count=1) for each in pair.part.soldered[:many])
    listed = parts_list(Analysis(rig.edited(("junk_box",), JunkBox(parts=parts))))
    taken = [each for each in listed if each.on_hand]
    assert sum(each.on_hand for each in taken) == many
    assert sum(pair.part.soldered) == pytest.approx(pair.part.fitted)


def test_larger_capacitors_on_hand_do_where_more_is_as_good(sample):
    """Where they couple or block, up to three times; in a filter never, nor where the box is not first."""
    box = (CapacitorOnHand(capacitance_f=220e-9, type="other", count=500),)
    rig = sample.edited(("junk_box", "parts"), box)
    first = rig.edited(("junk_box", "first"), True)
    plain, mine = (parts_list(Analysis(each)) for each in (rig, first))
    rough = [each for each in mine if each.instead]
    assert len(rough) > 20
    assert {each.kind for each in rough} == {"220 nF on hand will do"}
    assert all(220e-9 / 3 <= each.part.fitted < 220e-9 and each.to_buy == 0 for each in rough)
    assert not any(each.instead for each in plain)
    filters = {row.stage for row in Analysis(sample).filters} | {"vfo"}
    assert not {each.stage for each in rough} & filters


def test_what_larger_coupling_does_to_the_gain_is_next_to_nothing(sample):
    """Every coupling and bypass capacitor three times as large, against the gain as designed."""
    analysis = Analysis(sample)
    for stage in ("driver", "rf_stage", "if_amplifier_1"):
        design = analysis.design(stage, "20m")
        larger = tuple(
            Branch(replace(b.part, value=3 * b.part.value), b.nodes)
            if isinstance(b.part, Part) and b.part.role in ("coupling", "bypass", "feedback_block")
            else b
            for b in design.circuit.branches
        )
        changed = Circuit(larger, design.circuit.ports, design.circuit.rails)
        gains = [
            20 * np.log10(abs(two_port(each, [14.2e6]).s(50.0)[1, 0, 0]))
            for each in (design.circuit, changed)
        ]
        assert abs(gains[1] - gains[0]) < 0.1


def test_trimmers_tuning_capacitors_and_wire_on_hand_are_subtracted(sample):
    analysis = Analysis(sample)
    rig = sample.edited(("stages", "band_pass", "filters", 0, "core"), "T50-6")
    trimmers = [line for line in needed_of(analysis) if "trimmer" in line.value and line.type]
    assert trimmers
    assert all(line.on_hand == 0 for line in trimmers)
    wire = next(line for line in needed_of(Analysis(rig)) if line.what == "wire")
    assert wire.on_hand == 0
    mm = float(wire.value.split(" of ")[1].split(" mm")[0])
    box = (
        VariableOnHand(low_f=2e-12, high_f=60e-12, count=3),
        VariableOnHand(low_f=10e-12, high_f=100e-12, count=1),
        WireOnHand(diameter_m=1e-3 * mm, length_m=5.0, count=1),
    )
    lines = needed_of(Analysis(rig.edited(("junk_box", "parts"), box)))
    taken = sum(line.on_hand for line in lines if "trimmer" in line.value and line.type)
    # The tuning capacitor takes its own, the three others go to three trimmers.
    assert taken == 3
    assert [
        line.on_hand for line in lines if line.type == "air variable" and "trimmer" not in line.value
    ] == [1]
    assert next(line for line in lines if line.what == "wire").on_hand == 1


def test_capacitors_of_a_match_are_of_a_kind_that_stays(sample):
    """Radio frequency current heats others, and what is told to be there must be."""
    stage = BuiltPowerAmplifier(id="pa", name="PA", direction="transmit", match="pi", designed_at_hz=14.2e6)
    rig = sample.edited(("stages",), (*sample.stages, stage))
    matched = [
        each
        for each in parts_list(Analysis(rig))
        if each.stage == "pa" and each.part.role == "match_capacitor"
    ]
    assert [each.kind.split(",")[0] for each in matched] == ["C0G (NP0)"] * 2
    for type, taken in (("other", 0), ("silver_mica", 1)):
        box = JunkBox(parts=(CapacitorOnHand(capacitance_f=matched[0].part.fitted, type=type),))
        listed = parts_list(Analysis(rig.edited(("junk_box",), box)))
        assert sum(each.on_hand for each in listed if each.stage == "pa" and each.type is not None) == taken


def test_oscillators_mixers_and_audio_take_what_is_on_hand_and_it_is_subtracted(sample):
    """What each takes lies in the box, is told to be on hand, and with the switch off nobody takes it."""
    small, large = (91, 110, 130, 160, 240, 1.3e3, 7.5e3, 13e3), (0.043, 0.15, 0.5, 1.2, 2.9, 20, 40)
    values = [1e-12 * each for each in small] + [1e-6 * each for each in large]
    box = JunkBox(first=True, parts=tuple(CapacitorOnHand(capacitance_f=f, count=300) for f in values))
    mine = parts_list(Analysis(sample.edited(("junk_box",), box)))
    off = parts_list(Analysis(sample.edited(("junk_box",), box.edited(("first",), False))))
    asked = ("mixer", "built_audio", "audio_power", "carrier", "helper")
    kinds = {stage.id: stage.kind for stage in sample.stages} | {each: each for each in asked[3:]}
    kinds = {stage: kind for stage, kind in kinds.items() if kind in asked}
    taken = set()
    for each, was in zip(mine, off, strict=True):
        part = each.part
        changed = part.fitted != was.part.fitted and part.role != "trimmer"
        if part.kind == "capacitor" and changed and each.stage in kinds:
            assert min(abs(part.fitted / value - 1) for value in values) < 1e-5
            assert (each.on_hand, each.to_buy) == (1, 0)
            taken.add(kinds[each.stage])
    assert {"mixer", "built_audio", "audio_power", "carrier"} <= taken


def test_cores_of_a_power_amplifier_are_subtracted(sample):
    """Those of its transformers, and that of the coil of an L."""
    box = tuple(CoreOnHand(core=name) for name in ("BN-43-202", "bn-43-2402", "T68-2"))
    for match, taken in (("transformer", {"TI", "TO"}), ("l", {"TI", "LM"})):
        path = ("stages", "power_amplifier")
        rig = sample.edited((*path, "match"), match).edited(("junk_box", "parts"), box)
        if match == "l":
            rig = rig.edited((*path, "core"), "T68-2").edited((*path, "designed_at_hz"), 14.2e6)
        listed = [each for each in parts_list(Analysis(rig)) if each.stage == "power_amplifier"]
        assert {each.part.ref for each in listed if each.on_hand} == taken
        wires = [line for line in needed_of(Analysis(rig)) if line.what == "wire"]
        assert any("Power amplifier" in line.places for line in wires) is (match == "l")
