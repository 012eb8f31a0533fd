"""Coils on their cores in the rig: what is told of them, and the core that is chosen."""

import json
from math import pi, sqrt

import pytest

from core.circuits.coils.cored import flux_t
from core.rig.analysis import Analysis
from core.rig.figures.figure import keyed
from core.rig.figures.parts import WINDING, had
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.report import as_text, report
from core.rig.rules import coils
from core.rig.wound.core_choice import choose_core
from core.rig.wound.windings import windings, windings_of
from core.stages.outcome import Unsolved
from core.trade.cores import cores

STAGES = ("band_pass", "low_pass")


def wound(rig, stage, core, filter_=0):
    return rig.edited(("stages", stage, "filters", filter_, "core"), core)


@pytest.mark.parametrize("stage", STAGES)
def test_what_is_told_of_a_coil_is_what_its_core_and_the_circuit_say(tern, stage):
    analysis = Analysis(wound(tern, stage, "T50-6"))
    row = next(each for each in analysis.filters if each.stage == stage)
    parts = {each.ref: each for each in row.design.network.parts}
    found = windings_of(analysis, row)
    assert len(found) == sum(each.kind == "inductor" for each in parts.values())
    for each in found:
        assert each.wound.inductance_h == pytest.approx(4e-9 * each.wound.turns**2)
        assert each.set_h == pytest.approx(parts[each.ref].value)
        assert each.check_hz == pytest.approx(1 / (2 * pi * sqrt(parts[each.ref].value * each.check_f)))
        # Near where it works, so that what finds the resonance has the range.
        assert 0.7 < each.check_hz / 14.2e6 < 1.4
        text = keyed(WINDING)["turns"].text(each)
        assert text == str(each.wound.turns)


def test_the_transmitters_power_counts_behind_the_power_amplifier_alone(tern):
    """Volts of the exact circuit at the low end of the band, through the definition of flux."""
    analysis = Analysis(wound(wound(tern, "band_pass", "T50-6"), "low_pass", "T50-6"))
    found = {(each.stage, each.ref): each for each in windings(analysis)}
    assert found["band_pass", "L1"].flux_t is None
    assert "flux_t" not in keyed(had((found["band_pass", "L1"],)))
    coil = found["low_pass", "L2"]
    volt = next(each.peak_v for each in analysis.part_stress("low_pass", 0) if each.ref == "L2") / sqrt(2)
    low = tern.band("20m").low_hz
    assert coil.flux_t == pytest.approx(flux_t(volt, coil.wound.turns, cores()["T50-6"].area_m2, low))
    assert coil.most_flux_t == pytest.approx(4.1e-3, rel=0.03)


def test_no_coil_is_told_of_where_no_core_was_chosen(tern):
    assert report(Analysis(tern))["coils"] == []


def test_the_report_tells_every_coil_to_wind(tern):
    data = report(Analysis(wound(tern, "low_pass", "T50-6")))
    rows = data["coils"]
    assert [each["ref"] for each in rows] == ["L1", "L2", "L3"]
    assert {
        "turns",
        "wire_m",
        "length_m",
        "set_h",
        "quality",
        "self_resonance_hz",
        "check_f",
        "check_hz",
    } < set(rows[0])
    assert json.dumps(rows)
    text = as_text(data)
    (head,) = (line for line in text.splitlines() if "wire to cut" in line)
    assert "Q, an estimate" in head
    assert text.count("T50-6  ") >= 3


def test_the_sheet_has_the_windings_of_each_filter(tern):
    sheet = build_sheet(Analysis(wound(tern, "band_pass", "T50-6")))
    sections = {each.title: each for each in sheet.filters}
    assert [each.ref for each in sections["Band-pass, 20 m"].windings] == ["L1", "L2", "L3"]
    assert sections["Low-pass, 20 m"].windings == ()


@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("band", ["20m", "12m"])
def test_the_core_chosen_loses_hardly_more_than_any_and_less_than_the_smallest(tern, stage, band):
    """The simple choices: the smallest core that takes the turns, and the one that builders take for all."""
    chosen = choose_core(Analysis(tern), stage, band)
    place = next(n for n, each in enumerate(tern.stage(stage).filters) if band in each.bands)

    def loss(core):
        analysis = Analysis(wound(tern, stage, core, place))
        figures = analysis.filter_figures(stage, band)
        hot = list(coils.core_flux(analysis)) + list(coils.core_range(analysis))
        return None if isinstance(figures, Unsolved) or hot else figures.served_loss_db

    lost = {name: loss(name) for name in cores() if name.startswith("T")}
    lost = {name: each for name, each in lost.items() if each is not None}
    assert chosen.core in lost
    assert lost[chosen.core] <= min(lost.values()) + 0.15
    smallest = min(lost, key=lambda name: (cores()[name].outer_m, -lost[name]))
    assert lost[chosen.core] <= lost[smallest]
    assert chosen.why.startswith(f"{chosen.core}: ")
    assert f"{lost[chosen.core]:.2f} dB" in chosen.why
    after = Analysis(chosen.edit.on(tern))
    assert after.filter_figures(stage, band).served_loss_db == pytest.approx(lost[chosen.core])


def test_more_power_takes_a_larger_core(tern):
    small = choose_core(Analysis(tern), "low_pass", "20m")
    strong = tern.edited(("stages", "power_amplifier", "rated_w"), 60.0)
    large = choose_core(Analysis(strong), "low_pass", "20m")
    assert cores()[large.core].area_m2 > 2 * cores()[small.core].area_m2
    assert "60 W" in large.why


def test_why_no_core_can_be_chosen_is_told(tern):
    none = tern.edited(("stages", "band_pass", "filters", 0, "inductance_h"), 400e-6).edited(
        ("stages", "band_pass", "filters", 0, "centre_hz"), 14.2e6
    )
    found = choose_core(Analysis(none), "band_pass", "20m")
    assert isinstance(found, Unsolved)
    ladder = choose_core(Analysis(tern), "ladder", "20m")
    assert "no coils to choose a core for" in ladder.reason
