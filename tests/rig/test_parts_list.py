"""Parts list: every number, kind and label as in the analysis."""

import csv
from io import StringIO

import pytest

from core.model.notebook.junk_box import CoreOnHand, DiodeOnHand
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.bench import crystal_bench, crystals_in_ladder
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.parts_list import parts_csv, parts_list
from core.rig.rows import RigPart
from core.rig.supply.soldered import supply_soldered
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.outcome import PartRow
from core.stages.vfo.oscillator import operating
from core.stages.vfo.tank import circuit

#: What the circuit has that nobody solders into it.
NOT_BOUGHT = ("stray", "device", "load", "differential_cold")

IN_SI = {"pF": 1e-12, "µH": 1e-6, "MHz": 1e6, "Ω": 1.0, "V": 1.0, "A": 1.0, "-": 1.0, "": 1.0}
IN_SI |= {"piece": 1.0, "type": 1.0}


def lines(rig):
    return list(csv.DictReader(StringIO(parts_csv(Analysis(rig)))))


@pytest.mark.parametrize("name", ["tern", "muddle"])
def test_every_line_has_the_analysis_values_in_its_unit(request, name):
    rig = request.getfixturevalue(name)
    rig = rig.edited(("stages", "ladder", "as_built"), {"coupling:2": 123.4e-12})
    analysis = Analysis(rig)
    names = {stage.id: stage.name for stage in rig.stages} | {"vfo": "VFO", "supply": "Supply"}
    fed = [RigPart("supply", (), None, part) for part in supply_soldered(analysis).parts]
    every, table = [*analysis.parts, *fed], lines(rig)
    assert len(table) == len(every) > 20
    assert len(fed) > 10
    for line, each in zip(table, every, strict=True):
        part: PartRow = each.part
        assert (line["stage"], line["part"], line["what"]) == (names[each.stage], part.ref, part.kind)
        assert line["bands"] == " ".join(spelled(band) for band in each.bands)
        scale = IN_SI[line["unit"]]
        for head, value in (
            ("designed", part.designed),
            ("preferred", part.preferred),
            ("as built", part.as_built),
        ):
            if value is None:
                assert line[head] == ""
            else:
                assert float(line[head]) * scale == pytest.approx(value, rel=1e-4)
                assert len(line[head]) <= 11, "no binary tails"
    assert any(line["designed"] != line["preferred"] for line in table)
    built = next(line for line in table if line["as built"])
    assert (built["part"], built["as built"], built["unit"]) == ("C2", "123.4", "pF")


def test_capacitors_say_their_kind_and_coefficient(tern):
    tank = tern.vfo.tank.edited(("compensation_f",), 27e-12).edited(("compensation_type",), "n150")
    rig = tern.edited(("vfo", "tank"), tank)
    by_ref = {each.part.ref: each for each in parts_list(Analysis(rig)) if each.stage == "vfo"}
    assert by_ref["CK"].kind == "N150 (P2H), −150 ± 60 ppm/K"
    assert by_ref["CP"].kind == "C0G (NP0), 0 ± 30 ppm/K"
    assert by_ref["L1"].type.type == tank.coil_type
    line = next(each for each in lines(rig) if (each["stage"], each["part"]) == ("VFO", "CK"))
    assert (line["kind"], line["ppm/K"], line["± ppm/K"]) == ("N150 (P2H)", "-150", "60")
    analysis = Analysis(rig)
    of_filters = {row.stage for row in analysis.filters}
    filters = [each for each in parts_list(analysis) if each.stage in of_filters]
    assert len(of_filters) == 3
    assert {each.type.type for each in filters if each.part.kind == "capacitor"} == {"c0g"}
    assert {each.kind for each in filters if each.part.kind == "inductor"} == {""}
    # Coupling and bypass capacitors of an amplifier are of any kind.
    others = [each for each in parts_list(analysis) if each.stage not in {*of_filters, "vfo"}]
    assert {each.type for each in others if each.part.kind == "capacitor"} == {None}


def test_chosen_crystals_are_named_by_their_label(tern):
    ladder = tern.stage("ladder")
    readings = "label,peak (MHz),bandwidth,loss\n" + "\n".join(
        f"Q{n},{19.6605 + n * 30e-6:.6f},{170 + n},1.5" for n in range(12)
    )
    rig = tern.edited(("crystal_batch",), crystal_bench.with_readings(tern.crystal_batch, readings))
    batch = crystal_bench.batch_of(rig.crystal_batch)
    found = crystals_in_ladder.place(batch, AskedLadder(ladder, rig.if_hz))
    rig = crystals_in_ladder.fit_in(rig, "ladder", batch, found)
    wanted = {each.ref: each.label for each in found.placed}
    got = {line["part"]: line["crystal"] for line in lines(rig) if line["what"] == "crystal"}
    assert got == wanted
    assert set(got.values()) <= {f"Q{n}" for n in range(12)}


def test_parts_alike_are_counted_over_the_whole_rig(tern):
    table = lines(tern)
    # What has a type is alike by it, transformers by their turns.
    same = [
        (line["what"], line["kind"], line["as built"] or line["preferred"], line["unit"])
        if line["unit"] != "type" and line["what"] != "transformer"
        else (line["what"], each.part.type or line["note"])
        for line, each in zip(table, parts_list(Analysis(tern)), strict=True)
    ]
    assert 0 < same.count(("transistor", "2N5109")) < same.count(("transistor", "2N3904"))
    assert [int(line["alike in the rig"]) for line in table] == [same.count(each) for each in same]
    assert same.count(("crystal", "", "19.6608", "MHz")) == tern.stage("ladder").poles


@pytest.mark.parametrize("device", ["j310", "2n3904"])
def test_the_vfos_list_has_all_that_its_schematic_draws(tern, device):
    rig = tern.edited(("vfo", "tank", "feedback", "device"), device)
    analysis = Analysis(rig)
    feedback = rig.vfo.tank.feedback
    got = {line["part"]: line for line in lines(rig) if line["stage"] == "VFO"}
    drawn = {part.ref for part in circuit(analysis.tank, "20m").parts if part.role not in NOT_BOUGHT}
    assert drawn | {"CD1", "Q1"} <= set(got)
    assert float(got["CV"]["designed"]) * 1e-12 == pytest.approx(rig.vfo.tank.variable.span_f[1])
    assert float(got["CD1"]["designed"]) == 100e3
    assert got["Q1"]["note"].startswith(operating(feedback).name)
    assert (got["Q1"]["designed"], got["Q1"]["unit"]) == ("1", "piece")
    if device == "j310":
        assert (float(got["RG"]["designed"]), got["RG"]["unit"]) == (feedback.gate_ohm, "Ω")
        assert float(got["RS"]["designed"]) == feedback.bias_ohm
        assert "RB1" not in got
        assert float(got["LC"]["designed"]) * 1e-6 == pytest.approx(feedback.choke_h)
        assert got["LC"]["kind"] == ""
    else:
        assert float(got["RB1"]["designed"]) == feedback.base_upper_ohm
        assert float(got["RE"]["designed"]) == feedback.bias_ohm
        assert "RG" not in got
    sheet = build_sheet(analysis).vfo
    assert {part.ref for part in sheet.parts} == set(got)
    assert len(sheet.kinds) == len(sheet.parts)


def test_a_mixers_parts_are_in_the_list_and_its_cores_come_out_of_the_junk_box(sample):
    """Four diodes and two transformers a ring; two of the cores and three of the diodes are there."""
    box = sample.junk_box.edited(
        ("parts",),
        (
            CoreOnHand(core="FT37-43", count=2),
            DiodeOnHand(device="1n5711", count=3),
        ),
    )
    rig = sample.edited(("junk_box",), box)
    listed = [each for each in parts_list(Analysis(rig)) if each.stage in ("mixer", "detector")]
    diodes = [each for each in listed if each.part.kind == "diode"]
    assert [each.part.ref for each in diodes] == 2 * ["D1", "D2", "D3", "D4"]
    assert {each.part.type for each in diodes} == {"1N5711"}
    assert [each.on_hand for each in diodes] == [1, 1, 1, 0, 0, 0, 0, 0]
    assert diodes[0].alike == 8
    coils = [each for each in listed if each.part.kind == "transformer"]
    assert [(each.part.ref, each.on_hand, each.to_buy) for each in coils] == [
        ("T1", 1, 0),
        ("T2", 1, 0),
        ("T1", 0, 1),
        ("T2", 0, 1),
    ]
