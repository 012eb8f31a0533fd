"""Carrier and helper oscillators of parts in the rig: level, supply, parts, board, netlist, findings."""

import re
from math import sqrt

import numpy as np
import pytest

from core.circuits.circuit import GROUND
from core.circuits.units import watts
from core.model.files import load, save
from core.model.stages.oscillators import CarrierOscillator, CrystalCircuit, HelperOscillator
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.board.boards import board_of, boards
from core.rig.board.checks import misjoined
from core.rig.board.rig_board import whole_board
from core.rig.figures.figure import by_key
from core.rig.frequencies import Frequencies
from core.rig.levels import oscillator_drive
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.curves import pulled_carriers
from core.rig.paper.export import netlist_of
from core.rig.paper.needed import needed_of
from core.rig.paper.parts_list import parts_list
from core.rig.paper.report import report
from core.rig.rules import inspect
from core.rig.sections.crystal_oscillators import CRYSTAL_OSCILLATOR, oscillators_at
from core.rig.supply.consumers import feeding
from core.rig.workshop.alignment import alignment
from core.rig.workshop.test_points import at_stage, points_of
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from tests.log_entries import why, with_reading

CIRCUIT, HELPER = ("carrier", "circuit"), ("read_out", "helper")


@pytest.fixture(scope="module")
def made(muddle):
    """The rig of both sidebands with carrier and helper of parts, and nothing typed of their currents."""
    rig = muddle.edited(CIRCUIT, CrystalCircuit()).edited(HELPER, HelperOscillator())
    loads = tuple(each for each in rig.supply.loads if each.of != "carrier")
    return rig.edited(("supply", "loads"), loads)


@pytest.fixture(scope="module")
def analysis(made):
    return Analysis(made)


def test_a_rig_of_before_reads_as_before(muddle, tmp_path):
    assert muddle.carrier.circuit is None
    assert muddle.read_out.helper is None
    analysis = Analysis(muddle)
    assert analysis.carrier_circuit is None
    assert analysis.helper_circuit is None
    assert analysis.oscillators == ()
    assert oscillator_drive.driven(muddle, "carrier").oscillator.output_dbm == muddle.carrier.output_dbm
    with pytest.raises(DesignError, match="The carrier oscillator is a block of figures without parts"):
        board_of(analysis, "carrier")


def test_its_file_comes_back_as_it_was(made, tmp_path):
    built = made.edited((*CIRCUIT, "as_built"), {"feedback_upper": 95e-12, "trimmer:upper": 30e-12})
    save(built, tmp_path / "rig.json")
    assert load(tmp_path / "rig.json") == built


def test_what_it_delivers_drives_its_mixers(made, analysis):
    design = analysis.carrier_circuit
    (drive,) = (each for each in analysis.drives if each.oscillator == "carrier")
    assert drive.delivered_dbm == design.level_dbm
    assert drive.delivered_dbm != made.carrier.output_dbm
    # A resistor of the buffer turns the drive down.
    weak = made.edited((*CIRCUIT, "as_built"), {"degeneration": 100.0})
    (turned,) = (each for each in Analysis(weak).drives if each.oscillator == "carrier")
    assert turned.delivered_dbm < drive.delivered_dbm - 6
    # Asked for more, it gives more.
    more = oscillator_drive.driven(
        made.edited(("carrier", "output_dbm"), 10.0), "carrier"
    ).oscillator.output_dbm
    assert more == pytest.approx(10.0, abs=0.8)


def steps_of(rig, start):
    found = [step for step in alignment(Analysis(rig)) if step.title.startswith(start)]
    return [reading.value for step in found for reading in step.readings if reading.what == "output"]


@pytest.mark.parametrize("if_hz", [10.553746e6, 10.698174e6, 10.838973e6])
def test_its_level_is_one_number_wherever_it_is_told(made, if_hz):
    rig = made.edited(("if_hz",), if_hz)
    rows = [row["output_dbm"] for row in report(Analysis(rig))["crystal_oscillators"][:2]]
    assert rows == steps_of(rig, "Carrier for")
    assert min(rows) == oscillator_drive.driven(rig, "carrier").oscillator.output_dbm


@pytest.mark.parametrize("off_hz", [-300.0, 300.0])
def test_a_crystal_that_was_measured_drives_its_mixers_as_it_is(made, analysis, off_hz):
    measured = {"crystal:1": analysis.carrier_circuit.asked.fs_hz + off_hz}
    rig = made.edited((*CIRCUIT, "as_built"), measured)
    rows = [row["output_dbm"] for row in report(Analysis(rig))["crystal_oscillators"][:2]]
    assert min(rows) == oscillator_drive.driven(rig, "carrier").oscillator.output_dbm
    # 6.8 dBm as computed: the coil loses less where the crystal is nearer to the carrier, and more beyond.
    assert min(rows) == pytest.approx(6.8 - off_hz / 300 * 0.25, abs=0.06)


def test_two_mixers_share_its_output(made):
    detector = made.stage("detector")
    two = made.stage_inserted(len(made.stages), detector.edited(("direction",), "receive"))
    design = Analysis(two).carrier_circuit
    assert design.asked.level_dbm == pytest.approx(made.carrier.output_dbm + 3.01, abs=0.01)
    drives = [each.delivered_dbm for each in Analysis(two).drives if each.oscillator == "carrier"]
    assert drives == [pytest.approx(design.level_dbm - 3.01, abs=0.01)] * 2


def test_the_carrier_is_pulled_as_the_whole_circuit_says(made, analysis):
    design = analysis.carrier_circuit
    for row, working, pulling in zip(analysis.carriers, design.places, design.pullings, strict=True):
        assert row.pulling is pulling
        assert working.f_hz == pytest.approx(row.place.frequency_hz, abs=1.0)
    # The load that was typed is what its divider is made for, and not taken for granted.
    typed = Frequencies(made.edited(CIRCUIT, None)).carriers
    assert typed[1].pulling.coil_h != analysis.carriers[1].pulling.coil_h
    button = analysis.solved_pulling("20m")
    assert button == analysis.carriers[1].pulling


def test_what_it_draws_is_counted(made, analysis):
    consumers = {each.key: each for each in feeding(analysis).consumers}
    assert consumers["carrier"].origin == consumers["helper"].origin == "circuit"
    design = analysis.carrier_circuit
    at_8_v = consumers["carrier"].current("receive").at(8.0, full=False)
    assert at_8_v == pytest.approx(design.supply_a, rel=1e-6)
    assert consumers["carrier"].made_for_v == 8.0
    assert made.edited(HELPER, None).can_be_fed == tuple(e for e in made.can_be_fed if e[0] != "helper")
    # A typed current goes before the circuit's, as for every stage.
    assert consumers["helper"].current("receive").at(8.0, full=False) == pytest.approx(11.3e-3, rel=0.1)


def test_its_parts_are_listed_once(analysis):
    listed = [each for each in parts_list(analysis) if each.stage in ("carrier", "helper")]
    assert {each.name for each in listed} == {"Carrier oscillator", "Helper oscillator"}
    refs = [each.part.ref for each in listed if each.stage == "carrier"]
    assert len(refs) == len(set(refs)) == len(analysis.carrier_circuit.parts)
    divider = next(each for each in listed if each.part.role == "feedback_upper")
    assert divider.type.type == "c0g"
    lines = needed_of(analysis)
    crystals = [line for line in lines if line.what == "crystal"]
    assert [each.value for each in crystals if "Helper" in each.places] == ["6.144 MHz"]
    assert sum(line.quantity for line in crystals if "Carrier" in line.places) == 11
    trimmers = [line for line in lines if line.value == "5 pF to 60 pF, trimmer"]
    assert sum(line.quantity for line in trimmers) == 3
    assert "one changeover contact" in [line.value for line in lines if line.what == "relay"]


def test_everything_is_on_its_board_and_joined_as_in_its_circuit(analysis):
    made = {each.stage: each for each in boards(analysis)}
    for key, design in (("carrier", analysis.carrier_circuit), ("helper", analysis.helper_circuit)):
        board = made[key]
        placed = {item.of or item.ref for item in board.items}
        assert {row.ref for row in design.parts} <= placed
        assert not board.clashes
        assert misjoined(board.plan, board.items) == ()
    names = " ".join(whole_board(analysis).legend)
    assert "Carrier oscillator" in names
    assert "Helper oscillator" in names
    told = [words.text for words in whole_board(analysis).shapes if hasattr(words, "text")]
    assert told.count("parts not known") == 1 + sum(s.id not in made for s in analysis.project.stages) - (
        "vfo" in made
    )


def test_its_test_points_tell_direct_and_signal_volts(analysis):
    points = {each.key: each for each in at_stage(points_of(analysis), "carrier")}
    rest = analysis.carrier_circuit.rest
    assert points["carrier/transistor:1.emitter"].dc_v == rest.volts["emitter"]
    assert points["carrier/current"].dc_a == sum(rest.rails_a.values())
    probe, working = points["carrier/probe:upper"], analysis.carrier_circuit.places[1]
    assert probe.peak_to_peak_v == pytest.approx(2 * working.emitter_v, rel=1e-9)
    assert points["carrier/output"].rms_v == pytest.approx(
        sqrt(50 * watts(analysis.carrier_circuit.level_dbm)), rel=1e-9
    )
    helper = {each.key: each for each in at_stage(points_of(analysis), "helper")}
    assert helper["helper/output"].level_dbm == analysis.helper_circuit.level_dbm


def test_its_page_of_the_sheet_is_drawn_with_its_parts(analysis):
    sheet = build_sheet(analysis)
    assert sheet.crystals == ()
    assert sheet.read_out.helper is None
    carrier, helper = sheet.oscillators
    assert isinstance(carrier.drawing, CrystalOscillatorDesign)
    assert dict(carrier.figures)["oscillates at, upper"] == "10.700251 MHz"
    assert dict(helper.figures)["oscillates at"] == "6.144000 MHz"
    assert len(carrier.kinds) == len(carrier.parts)


def test_it_is_reported(analysis):
    rows = report(analysis)["crystal_oscillators"]
    assert [(row["oscillator"], row["sideband"]) for row in rows] == [
        ("Carrier oscillator", "lower"),
        ("Carrier oscillator", "upper"),
        ("Helper oscillator", ""),
    ]
    assert rows[2]["frequency_hz"] == pytest.approx(6.144e6, abs=1)
    assert rows[2]["off_hz"] == pytest.approx(0, abs=1)
    assert rows[0]["current_a"] == analysis.carrier_circuit.supply_a


def test_its_netlist_runs_over_time_from_half_its_swing(analysis):
    text = netlist_of(analysis, "carrier", "20m")
    assert "C_CTupper" in text
    assert "CTlower" not in text
    told = float(re.search(r"Expected are (\S+) Hz", text)[1])
    assert told == analysis.carrier_circuit.places[1].f_hz
    assert re.search(r"^\.tran \S+ \S+ \S+ \S+ uic$", text, re.M)
    start = float(re.search(r"L_X1_m .* IC=(\S+)", text)[1])
    assert start == pytest.approx(analysis.carrier_circuit.places[1].current_a / 2, rel=1e-9)
    assert "hertz" not in text.split("* Losses")[1].split("\n", 1)[1]
    assert "Helper" in netlist_of(analysis, "helper", "40m")
    with pytest.raises(DesignError, match="is a block without parts"):
        netlist_of(Analysis(analysis.project.edited(CIRCUIT, None)), "carrier", "20m")


def test_a_lossy_capacitor_lets_no_direct_current_pass_in_a_run_over_time(analysis):
    lines = netlist_of(analysis, "carrier", "20m").splitlines()
    ends = {line.split()[0]: set(line.split()[1:3]) for line in lines if line[:2] in ("C_", "R_")}
    lossy = [name for name in ends if name.startswith("C_") and f"R_{name[2:]}_q" in ends]
    assert {"C_C1", "C_C2", "C_CTupper"} <= set(lossy)
    for name in lossy:
        assert len(ends[name] & ends[f"R_{name[2:]}_q"]) == 1, name
    divider = next(line for line in lines if line.startswith("C_C1 "))
    loss = next(line for line in lines if line.startswith("R_C1_q "))
    ohm = eval(loss.split()[3].strip("{}"))
    f_hz = analysis.carrier_circuit.places[1].f_hz
    assert ohm == pytest.approx(1 / (1000 * 2 * np.pi * f_hz * float(divider.split()[3])), rel=1e-6)


def spoilt(made, **circuit):
    return made.edited(CIRCUIT, CrystalCircuit(**circuit))


@pytest.mark.parametrize(
    ("rule", "circuit", "words"),
    [
        ("crystal_hot", {"device": "j310"}, "is driven with"),
        ("crystal_output", {"as_built": {"degeneration": 300.0}}, "where at least 5.5 dBm is asked"),
        (
            "crystal_beside",
            {"as_built": {"damping_resistor:upper": 1e8}},
            "by its coil and the",
        ),
        ("crystal_start", {"as_built": {"bias_emitter:1": 47e3}}, "what is lost with the worst crystal"),
    ],
)
def test_what_is_wrong_is_found_and_its_remedy_mends_it(made, rule, circuit, words):
    rig = spoilt(made, **circuit)
    found = [each for each in inspect(Analysis(rig)) if each.rule == rule]
    assert found
    assert words in found[0].text
    assert found[0].edits
    mended = found[0].edits[0].on(rig)
    again = [each.key for each in inspect(Analysis(mended)) if each.rule == rule]
    assert found[0].key not in again


def test_what_is_assumed_or_from_memory_is_told_where_it_counts(made, analysis):
    worst = "the worst crystal taken to lose twice what its Q tells"
    weak = {"as_built": {"bias_emitter:1": 47e3}}
    (told,) = {f.source for f in inspect(Analysis(spoilt(made, **weak))) if f.rule == "crystal_start"}
    assert worst in told
    stated = spoilt(made, **weak, worst_ohm=60.0)
    (told,) = {f.source for f in inspect(Analysis(stated)) if f.rule == "crystal_start"}
    assert worst not in told
    (told,) = {f.source for f in inspect(Analysis(spoilt(made, device="j310"))) if f.rule == "crystal_hot"}
    assert "an estimate, within 1.5 dB of transient simulation" in told
    assert "what it bears as stated, usual values from memory" in told
    assert "empty: twice that of its Q, an assumption" in CrystalCircuit.model_fields["worst_ohm"].description
    coil = next(row for row in analysis.carrier_circuit.parts if row.role == "coil")
    assert coil.note == "in series with the crystal; a Q of 80 is assumed, as no core is known"
    tips = {figure.key: figure.tip for figure in CRYSTAL_OSCILLATOR}
    assert "twice what its Q tells, an assumption" in tips["start_margin"]
    assert "Q of a coil that nobody wound 80, of chokes 50 and capacitors 1000" in tips["frequency_hz"]
    assert "an estimate, within 1.5 dB" in tips["output_dbm"]


def test_a_sound_one_is_not_complained_of(made):
    rules = {each.rule for each in inspect(Analysis(made))}
    assert not {rule for rule in rules if rule.startswith("crystal_")}
    assert "helper_out_of_reach" not in rules


def test_without_a_place_there_is_a_reason(made):
    bare = Analysis(made.stage_removed("ladder"))
    assert bare.carrier_circuit.reason.startswith("The carrier has no crystal; give one to the ladder")
    assert oscillator_drive.driven(bare.project, "carrier").oscillator.output_dbm == made.carrier.output_dbm
    unsolved = [each for each in inspect(bare) if each.rule == "filter_unsolved" and each.stage == "carrier"]
    assert len(unsolved) == 1


def test_its_trimmers_are_set_and_its_output_read(analysis):
    steps = {step.title: step for step in alignment(analysis)}
    upper = steps["Carrier for 20 m"]
    assert "CTupper" in upper.do
    counted, output = upper.readings
    assert counted.value == pytest.approx(10.7002507e6, abs=0.1)
    assert output.value == analysis.carrier_circuit.places[1].level_dbm
    assert (output.least, output.most) == (output.value - 3, output.value + 3)
    helper = steps["Helper oscillator"]
    assert helper.readings[0].value == 6.144e6
    assert helper.readings[1].value == analysis.helper_circuit.level_dbm


def test_a_reading_of_its_output_has_causes_among_its_parts(made):
    code = "carrier/output"
    weak = made.edited((*CIRCUIT, "as_built"), {"degeneration": 27.0})
    read = at_stage(points_of(Analysis(weak)), "carrier")
    level = next(each.level_dbm for each in read if each.place == "output")
    told = why(with_reading(made, code, f"{level!r} dBm", plus_minus="0.2 dB"), code)
    (cause,) = [each for each in told.causes if each.ref == "RD"]
    assert cause.off == pytest.approx(27 / 18 - 1, abs=0.06)


def test_a_carrier_that_oscillates_nowhere_has_no_curve_over_its_trimmer(made, muddle):
    dead = Analysis(made.edited((*CIRCUIT, "as_built"), {"feedback_lower": 47e-9}))
    assert [each.f_hz for each in dead.carrier_circuit.places] == [None, None]
    assert pulled_carriers(dead).reason.startswith("The carrier oscillates nowhere in its trimmer's range")
    assert len(pulled_carriers(Analysis(made))) == len(pulled_carriers(Analysis(muddle))) == 2


def test_without_a_ladder_a_carrier_of_its_own_crystal_lacks_a_place_and_no_crystal(muddle):
    crystal = Analysis(muddle).ladder.crystal
    rig = muddle.edited(("carrier", "crystal"), crystal).edited(("stages", "ladder", "in_path"), False)
    assert pulled_carriers(Analysis(rig)).reason.startswith("There is no ladder filter in the path")


@pytest.mark.parametrize("of", [HelperOscillator, CarrierOscillator])
def test_a_trimmer_whose_ends_are_exchanged_is_told(of):
    with pytest.raises(DesignError, match="the trimmer's largest capacitance must be above its least"):
        of.checked(trimmer_low_f=60e-12, trimmer_high_f=5e-12)


def test_where_it_could_run_beside_its_crystal_is_a_frequency_and_a_margin(analysis):
    at, margin = by_key(CRYSTAL_OSCILLATOR, "beside_hz", "beside_margin")
    lower, upper, helper = oscillators_at(analysis)
    f_hz, times = upper.beside
    # The coil of the upper sideband with what the crystal's holder leaves it, well above the crystal.
    assert 2 * upper.working.f_hz < f_hz < 5 * upper.working.f_hz
    assert (at.text(upper), margin.text(upper)) == (f"{f_hz / 1e6:.1f} MHz", f"{times:.3g}")
    assert {(at.text(each), margin.text(each)) for each in (lower, helper)} == {("nowhere", "-")}


def test_the_sheet_has_one_frequency_and_the_outputs_of_an_oscillator_measured(analysis):
    carrier = build_sheet(analysis).oscillators[0]
    assert [title for title, _ in carrier.verify] == [
        "oscillates at, lower",
        "output, lower",
        "output, upper",
    ]


def test_a_relay_that_switches_the_sideband_lies_on_the_board_between_both_rows(made):
    """Its contact rests at the first one; a line of its own feeds its coil."""
    board = board_of(Analysis(made), "carrier")
    (relay,) = [body for body in board.plan.bodies if body.item.ref == "K"]
    joined = dict(zip(relay.item.electrodes, relay.item.nodes, strict=True))
    assert joined == {
        "coil": "sideband line",
        "coil's other end": GROUND,
        "common 1": "series",
        "closed 1": "switch lower",
        "open 1": "switch upper",
    }
    # Where its leads end are the crystal's row and those of the sidebands, and nothing else is joined.
    ends = {lead.node: lead.end for lead in relay.leads}
    for node in ("series", "switch lower", "switch upper", "sideband line"):
        assert any(island.box.holds(ends[node]) for island in board.plan.islands if island.node == node)
    assert {body.item.ref for body in board.plan.bodies if "series" in body.item.nodes} == {"X1", "K"}
    assert misjoined(board.plan, board.items) == ()
    assert board.clashes == board.long_leads == board.plan.crossings == ()
    # It is bought once, and no part of the circuit that oscillates.
    assert [line.what for line in needed_of(Analysis(made)) if "sideband" in str(line.where)] == ["relay"]
    assert "K" not in {branch.part.ref for branch in Analysis(made).carrier_circuit.circuit.branches}


def test_a_switch_of_the_sideband_stands_on_the_panel_and_its_wires_end_on_islands(made):
    rig = made.edited((*CIRCUIT, "switched_by"), "switch")
    board = board_of(Analysis(rig), "carrier")
    assert "K" not in {item.ref for item in board.items}
    assert {"series", "switch lower", "switch upper"} <= {island.node for island in board.plan.islands}


def test_one_sideband_alone_wants_no_relay(sample):
    rig = sample.edited(CIRCUIT, CrystalCircuit())
    assert len(Analysis(rig).carrier_circuit.places) == 1
    assert "K" not in {item.ref for item in board_of(Analysis(rig), "carrier").items}
