"""Which way windings go: dots, taps and what ends go to, against the circuits by their own solution."""

import numpy as np
import pytest

from core.circuits.circuit import Branch, Circuit, CoupledCoils, Part, Port, Transformer
from core.circuits.nodal import solve
from core.rig.analysis import Analysis
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.report import report
from core.rig.wound.ends import ends_of, every_end, vfo_ends


def rows(rig, stage, band="20m"):
    analysis = Analysis(rig)
    return [
        each
        for row in analysis.circuits
        if row.stage == stage and band in row.bands
        for each in ends_of(analysis, row)
    ]


@pytest.fixture(scope="module")
def tapped(sample):
    at = ("stages", "band_pass", "filters", 0)
    return sample.edited((*at, "core"), "T50-6").edited((*at, "ends"), "tapped_coil")


def test_a_tap_tells_its_turns_from_the_ground_and_the_impedance_there(tapped):
    found = rows(tapped, "band_pass")
    coil, tap = found[:2]
    assert (coil.ref, coil.winding, tap.ref, tap.winding) == ("L1", "coil", "L1", "tap")
    assert (coil.start, tap.start, tap.end, tap.ohm) == ("ground", "ground", "input", 50.0)
    assert 1 <= tap.turns < coil.turns
    # An ideal coil tapped at n of N turns is a transformer of n to N.
    assert tap.share == pytest.approx(tap.turns / coil.turns)
    design = Analysis(tapped).design("band_pass", "20m")
    note = next(row.note for row in design.parts if row.role == "link" and row.which == 1)
    assert f"{tap.turns} turn" in note
    assert f"of {coil.turns}" in note
    assert found[-1].end == "output"


def test_a_link_is_told_as_one(tapped):
    rig = tapped.edited(("stages", "band_pass", "filters", 0, "ends"), "link")
    assert [each.winding for each in rows(rig, "band_pass")] == ["coil", "link", "", "coil", "link"]
    bare = rig.edited(("stages", "band_pass", "filters", 0, "core"), "")
    link = rows(bare, "band_pass")[1]
    assert link.turns is None
    assert 0 < link.share < 0.5


def test_ends_that_a_dot_marks_are_in_phase(sample):
    """A transformer as in the stages' circuits, both starts at ground: what goes in comes out unturned."""
    made = CoupledCoils("T", 4e-6, 1e-6, 0.99999)
    ideal = Transformer("T", 2.0)
    for part, tolerance in ((made, 0.02), (ideal, 1e-6)):
        circuit = Circuit(
            (Branch(part, ("a", "0", "b", "0")), Branch(Part("R", "resistor", 1e3), ("b", "0"))),
            (Port("a", 200.0), Port("b", 50.0)),
        )
        response = solve(circuit, [30e6])
        assert abs(np.angle((response.at("b") / response.at("a"))[0])) < tolerance
    found = rows(sample, "power_amplifier")
    first, second = (each for each in found if each.ref == "TO")
    assert (first.start, second.start) == ("ground", "ground")
    assert (first.winding, first.turns, second.winding, second.turns) == ("first", 1, "second", 3)
    # Impedances go with the square of turns.
    assert second.ohm / first.ohm == pytest.approx(9.0)
    assert second.ohm == pytest.approx(50.0)


def test_an_amplifiers_transformer_says_where_supply_and_collector_go(sample):
    rig = sample.edited(("stages", "driver", "core"), "FT37-43")
    first, second = (each for each in rows(rig, "driver") if each.ref == "T")
    assert first.start.split(", ")[0] == "supply"
    assert "Q1" in first.end
    assert first.turns == 2 * second.turns
    assert (second.start, second.end) == ("ground", "C2")
    bare = [each for each in rows(sample, "driver") if each.ref == "T"]
    assert [(each.turns, each.share) for each in bare] == [(None, 2.0), (None, 1.0)]


def test_a_mixers_transformers_say_where_their_three_windings_go(sample):
    rows = {row.stage: row for row in Analysis(sample).circuits}
    told = [
        (each.ref, each.winding, each.start, each.end) for each in ends_of(Analysis(sample), rows["detector"])
    ]
    assert told[:6] == [
        ("T1", "first", "signal", "ground"),
        ("T1", "second", "RV", "start of the third, RT, LC"),
        ("T1", "third", "end of the second, RT, LC", "RS1, RS2"),
        ("T2", "first", "oscillator", "ground"),
        ("T2", "second", "D1, D4", "ground"),
        ("T2", "third", "ground", "D2, D3"),
    ]
    turns = [each.turns for each in ends_of(Analysis(sample), rows["mixer"])]
    assert turns == [3, 3, 3, 5, 5, 5]


def test_the_vfos_coil_starts_at_ground(sample):
    coil = vfo_ends(Analysis(sample))[0]
    assert (coil.ref, coil.start) == ("L1", "ground")
    assert "CV" in coil.end or "CS" in coil.end


def test_report_and_sheet_tell_the_same(tapped):
    analysis = Analysis(tapped)
    told, found = report(analysis)["windings"], every_end(analysis)
    assert [(each["ref"], each["start"], each["end"], each["ohm"]) for each in told] == [
        (each.ref, each.start, each.end, each.ohm) for each in found
    ]
    sheet = build_sheet(analysis)
    on_paper = [each for section in sheet.filters for each in section.ends] + list(sheet.vfo.ends)
    assert on_paper == list(found)
