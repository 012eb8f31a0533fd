"""Parts of the whole rig: like parts together, none missing, none twice."""

import csv
from collections import Counter
from io import StringIO

import pytest

from core.model.notebook.junk_box import CapacitorOnHand, JunkBox, WireOnHand
from core.rig.analysis import Analysis
from core.rig.paper.needed import needed, needed_csv, needed_of, pieces
from core.rig.paper.parts_list import parts_list
from core.rig.wound.windings import windings
from core.stages.coils.winding import on_core
from core.trade.cores import cores


@pytest.fixture(scope="module", params=["tern", "muddle"])
def analysis(request):
    return Analysis(request.getfixturevalue(request.param))


#: What no circuit tells: diodes and transformers of mixers, parts of the carrier and of the read-out.
BESIDES = ("Carrier oscillator", "Read-out")


def test_totals_are_the_sum_over_the_stages(analysis):
    listed = parts_list(analysis)
    lines = needed(analysis, listed)
    pieces = Counter()
    for each in listed:
        trimmer = each.part.trimmer_f is not None and each.part.as_built is None
        count = 1 if each.part.kind in ("transistor", "transformer") else len(each.part.soldered)
        pieces[each.part.kind] += count + trimmer
    mine = Counter()
    for line in lines:
        refs = [ref for stage, all_of in line.where for ref in all_of if not stage.startswith(BESIDES)]
        if not any(ref.endswith(("piece", "pieces")) for ref in refs):
            mine[line.what] += len(refs)
    assert mine == +pieces
    for line in lines:
        refs = [ref for _, all_of in line.where for ref in all_of]
        if not any(ref.endswith(("piece", "pieces")) for ref in refs):
            assert line.quantity == len(refs)


def test_every_part_is_found_at_its_stage(analysis):
    where = {
        (stage.partition(",")[0], ref)
        for line in needed_of(analysis)
        for stage, refs in line.where
        for ref in refs
    }
    for each in parts_list(analysis):
        assert (each.name, each.part.ref) in where


def test_like_parts_share_a_line_and_others_do_not(analysis):
    lines = needed_of(analysis)
    sorts = [(line.what, line.value, line.type, line.rating) for line in lines]
    twice = [each for each, count in Counter(sorts).items() if count > 1]
    # The carrier's and the helper's parts stand by themselves.
    assert all(what in ("crystal", "capacitor", "inductor") for what, *_ in twice)
    assert all("—" not in line.value for line in lines)
    kinds = [line.what for line in lines]
    assert kinds == sorted(kinds, key=kinds.index), "kinds stand together"


def test_mixers_of_rings_take_four_diodes_and_two_transformers_each(tern):
    tern = tern.edited(("supply",), None)
    lines = needed_of(Analysis(tern))
    rings = sum(1 for stage in tern.stages if stage.kind == "mixer" and stage.type == "ring")
    assert rings == 2
    assert sum(line.quantity for line in lines if line.what == "diode") == 4 * rings
    (wound,) = [line for line in lines if line.value == "trifilar, for a mixer"]
    assert wound.quantity == 2 * rings
    array = tern.edited(("stages", "mixer", "type"), "transistor_array")
    lines = needed_of(Analysis(array))
    assert sum(line.quantity for line in lines if line.what == "diode") == 4
    assert any("array" in line.value for line in lines)


def test_what_the_junk_box_holds_is_on_hand_and_the_rest_to_get(tern):
    plain = {(line.what, line.value): line for line in needed_of(Analysis(tern))}
    line = plain["capacitor", "100 nF"]
    assert line.quantity > 5
    assert line.on_hand == 0
    box = (CapacitorOnHand(capacitance_f=100e-9, count=5),)
    rig = tern.edited(("junk_box", "parts"), box)
    mine = {(line.what, line.value): line for line in needed_of(Analysis(rig))}["capacitor", "100 nF"]
    assert (mine.quantity, mine.on_hand, mine.to_get) == (line.quantity, 5, line.quantity - 5)


def test_the_csv_says_the_same_and_no_spreadsheet_computes_a_name(tern):
    rig = tern.edited(("stages", "driver", "name"), "=1+1")
    lines = needed_of(Analysis(rig))
    rows = list(csv.DictReader(StringIO(needed_csv(lines))))
    assert [int(row["quantity"]) for row in rows] == [line.quantity for line in lines]
    assert [int(row["to get"]) for row in rows] == [line.to_get for line in lines]
    assert [row["value"] for row in rows] == [line.value for line in lines]
    assert not any(cell.startswith("=") for row in rows for cell in row.values())
    assert any(row["where"].startswith("'=1+1") for row in rows)


def test_quantities_are_the_sum_over_the_stages_the_supply_among_them(sample):
    """Piece by piece: what the list of parts takes, stage by stage, is what the lines come to."""
    analysis = Analysis(sample)
    listed, lines = parts_list(analysis), needed_of(analysis)
    by_stage = Counter()
    for each in pieces(analysis, listed):
        by_stage[each.of.name] += 1
    counted = Counter()
    for line in lines:
        for place, refs in line.where:
            name = next((one for one in by_stage if place == one or place.startswith(f"{one}, ")), None)
            # Wire is told by length, and pieces beside a circuit by their number.
            if name is not None and line.what != "wire" and not refs[0].endswith(("piece", "pieces")):
                counted[name] += len(refs)
    assert counted == by_stage
    assert by_stage["Supply"] == len([each for each in listed if each.stage == "supply"])
    assert sum(line.quantity for line in lines if line.what != "wire") >= sum(by_stage.values())


def test_thinner_wire_on_hand_does_where_the_coils_lose_hardly_any_of_their_q(sample):
    """Of the low-pass's coils: the thickest that does, and none that would cost a tenth of the Q."""
    rig = sample.edited(("stages", "low_pass", "filters", 0, "core"), "T50-6")

    def line(*wires_mm, first=True, long_m=5.0):
        parts = tuple(WireOnHand(diameter_m=1e-3 * each, length_m=long_m) for each in wires_mm)
        box = JunkBox(first=first, parts=parts)
        lines = needed_of(Analysis(rig.edited(("junk_box",), box)))
        return next(each for each in lines if each.what == "wire" and "Low-pass" in each.places)

    coils = [each for each in windings(Analysis(rig)) if each.stage == "low_pass"]
    thick = 1e3 * coils[0].wound.wire_m

    def left(mm):
        """Of the Q, of the coil that loses most."""
        of = [(cores()[c.wound.on], c.set_h, c.check_hz, c.wound) for c in coils]
        return min(
            on_core(core, h, hz, wire_m=1e-3 * mm, turns=w.turns).quality
            / on_core(core, h, hz, wire_m=w.wire_m, turns=w.turns).quality
            for core, h, hz, w in of
        )

    does = [mm for mm in (0.2, 0.315, 0.4, 0.5, 0.63, 0.8) if mm < 0.95 * thick and left(mm) >= 0.9]
    spoils = [mm for mm in (0.2, 0.315, 0.4, 0.5) if left(mm) < 0.9]
    assert does
    assert spoils
    assert line(*spoils, *does).type == f"{max(does):g} mm on hand will do"
    assert line(*spoils, *does).to_get == 0
    assert (line(*spoils).type, line(*spoils).to_get) == ("", 1)
    # Nor where there is too little of it, nor before the box comes first.
    assert line(*does, long_m=0.2).to_get == 1
    assert line(*does, first=False).to_get == 1
    assert line(thick).type == ""
    assert line(thick).to_get == 0
