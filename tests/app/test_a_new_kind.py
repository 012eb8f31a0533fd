"""A kind of stage that exists in this file alone, and is found wherever stages are shown or counted."""

import ast
import json
import subprocess
from dataclasses import dataclass
from functools import lru_cache
from math import log10, pi
from pathlib import Path
from typing import Annotated, ClassVar, Literal

import numpy as np
import pytest
from pydantic import BeforeValidator
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit

from app.pages.stage import StagePage
from app.panels.editor_panel import EditorPanel
from app.panels.signal_path import SignalPath
from app.pictures.panels.parts import AS_BUILT
from app.pictures.rig import level_diagram
from app.pictures.rig.strip import strip_of
from app.sheet.drawings import drawn
from app.sheet.pages import write_pdf
from app.stage_views.block import BlockView
from app.stage_views.kinds import VIEWS
from app.state.look import Look
from app.widgets.number_field import NumberField
from core.circuits.circuit import GROUND, Branch, Circuit, Part, Port
from core.circuits.ladder import Response
from core.circuits.nodal import solve
from core.model.bench import Scatter
from core.model.files import dumps, loads
from core.model.project import Project
from core.model.stages.kinds import STAGES
from core.model.stages.stage import StageBase
from core.model.values.as_built import SCHEMA, WRITTEN, Pairs, pairs_of
from core.model.values.errors import FileError
from core.model.values.part_names import NAMES, Naming
from core.model.values.quantities import Decibel, DecibelLoss, Farad, Hertz, Ohm, stated
from core.rig import scattered
from core.rig.analysis import Analysis
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.export import netlist_of
from core.rig.paper.parts_list import parts_csv, parts_list
from core.rig.paper.report import report
from core.rig.rules import inspect
from core.stages.kinds.kind import BlockFigures, Kind, Making
from core.stages.kinds.table import KINDS
from core.stages.outcome import FilterDesign, Unsolved
from core.stages.parts import Built, part
from core.stages.tolerance.drawn import draw
from core.stages.tolerance.filters import BAND_PASS

# -- the whole of it: model, circuit, row, view -------------------------------------------------------------


class TunedAmplifier(StageBase):
    """An amplifier of typed-in gain into a parallel tuned circuit."""

    family: ClassVar[str] = "tuned"
    kind: Literal["tuned"] = "tuned"
    gain_db: Decibel = stated(15.0, "Gain", "Gain at resonance between 50 Ω.", "10 to 20 dB")
    noise_figure_db: DecibelLoss = stated(3.0, "Noise figure", "Noise figure from 50 Ω.", "2 to 5 dB")
    resonance_hz: Hertz = stated(14.2e6, "Resonance", "Where the tuned circuit is tuned to.", "14 MHz")
    tuning_f: Farad = stated(1e-9, "Tuning", "Capacitance of the tuned circuit.", "1 nF")
    load_ohm: Ohm = stated(50.0, "Load", "Resistance that the tuned circuit works into.", "50 Ω")
    as_built: Annotated[Pairs, BeforeValidator(pairs_of("tuned")), WRITTEN, SCHEMA] = stated(
        (), "As built", "Part to the value really fitted."
    )


@dataclass(frozen=True, eq=False)
class TunedDrawing:
    """What its schematic is drawn of."""

    parts: tuple[Part, ...]


@dataclass(frozen=True, eq=False)
class TunedDesign:
    """A circuit that is no row of arms to anybody."""

    circuit: Circuit
    parts: tuple
    span_hz: tuple[float, float]

    trimmed: ClassVar = ()

    @property
    def drawing(self):
        return TunedDrawing(self.circuit.parts)

    def response(self, f_hz, values=None):
        found = solve(self.circuit, f_hz, values=values)
        return found if isinstance(found, Unsolved) else Response(found.f_hz, found.s[0, 0], found.s[1, 0])


@drawn.register
def _(circuit: TunedDrawing, ink, soft, labels):
    names = " ".join(each.ref for each in circuit.parts)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="200" height="40">'
        f'<text x="5" y="25" fill="{ink}">tuned by {names}</text></svg>'
    )


@lru_cache(maxsize=16)
def designed(stage, around):
    if stage.resonance_hz > 100e6:
        return Unsolved("A tuned amplifier works up to 100 MHz; ask for a lower resonance.")
    built = Built("tuned", stage.as_built)
    coil_h = 1 / ((2 * pi * stage.resonance_hz) ** 2 * stage.tuning_f)
    ideal = (part("tuned", "coil", None, coil_h), part("tuned", "tuning", None, stage.tuning_f))
    rows = tuple(built.row_of(each, each.value, each.value) for each in ideal)
    fitted = [part("tuned", each.role, None, row.fitted) for each, row in zip(ideal, rows, strict=True)]
    circuit = Circuit(
        tuple(Branch(each, ("out", GROUND)) for each in fitted),
        (Port("out", 50.0), Port("out", stage.load_ohm)),
    )
    return TunedDesign(circuit, rows, (stage.resonance_hz / 2, 2 * stage.resonance_hz))


def counted(stage, at):
    """It loses beside its resonance, and is noisier from a source that is not 50 ohm."""
    beside = 0.0
    if at.design is not None and at.signal_hz is not None:
        s21 = solve(at.design.circuit, [at.signal_hz]).s[1, 0, 0]
        beside = -20 * log10(abs(s21))
    return BlockFigures(
        gain_db=stage.gain_db - beside,
        noise_figure_db=stage.noise_figure_db + mismatched_db(at.source_ohm),
        iip3_dbm=10.0,
        p1db_out_dbm=12.0 - mismatched_db(at.load_ohm),
    )


def mismatched_db(ohm):
    return -10 * log10(1 - abs((ohm - 50) / (ohm + 50)) ** 2)


ROW = Kind(
    model=TunedAmplifier,
    name="Tuned amplifier",
    spelled="Tuned amplifier",
    short=lambda zone, way: "tun",
    role="amplifier",
    gain_is="its gain at the dial, not at resonance",
    default=lambda bands, if_hz: TunedAmplifier(
        id="tuned", name="Tuned amplifier", resonance_hz=bands[0].centre_hz
    ),
    block=counted,
    making=Making(design=designed, judging=BAND_PASS),
)


class TunedView(BlockView):
    """A view of its own."""


# -- put into the tables, and taken away after --------------------------------------------------------------


@pytest.fixture
def known():
    with pytest.MonkeyPatch.context() as patch:
        coil, tuning = Naming("inductor", "L"), Naming("capacitor", "CV")
        patch.setitem(NAMES, "tuned", {"coil": coil, "tuning": tuning})
        patch.setitem(STAGES, "tuned", TunedAmplifier)
        patch.setitem(KINDS, "tuned", ROW)
        patch.setitem(VIEWS, "tuned", TunedView)
        Project.model_rebuild(force=True)
        yield
    Project.model_rebuild(force=True)


@pytest.fixture
def tuned(known, tern):
    """The sample with such a stage behind its band-pass."""
    at = next(n for n, stage in enumerate(tern.stages) if stage.id == "band_pass") + 1
    stage = TunedAmplifier(id="tuned", name="Tuned one", direction="receive", resonance_hz=14.1e6)
    return tern.stage_inserted(at, stage)


RECEIVE = Look("20m", "receive", 14.2e6, ("stages", "tuned"))


def beside_db(f_hz, coil_h, tuning_f):
    """What a parallel tuned circuit across 50 ohm between 50 ohm loses: |1 + 25 Y|, by hand."""
    w = 2 * pi * f_hz
    return 20 * log10(abs(1 + 25 * (1j * w * tuning_f + 1 / (1j * w * coil_h))))


COIL_H = 1 / ((2 * pi * 14.1e6) ** 2 * 1e-9)


def test_a_file_keeps_it_and_knows_it_no_longer_once_it_is_gone(tuned):
    built = tuned.edited(("stages", "tuned", "as_built"), {"coil": 1e-7})
    text = dumps(built)
    written = next(each for each in json.loads(text)["stages"] if each["id"] == "tuned")
    assert (written["kind"], written["as_built"]) == ("tuned", {"coil": 1e-7})
    again = loads(text)
    assert again == built
    assert type(again.stage("tuned")) is TunedAmplifier
    assert again.stage("tuned").as_built == (("coil", 1e-7),)
    with pytest.raises(FileError, match="gain_bd is not a field Copperclad knows; did you mean gain_db"):
        loads(text.replace('"tuning_f"', '"gain_bd"'))


def test_nothing_of_it_is_left_after_the_test_before(tern):
    assert "tuned" not in KINDS
    assert "TunedAmplifier" not in Project.model_json_schema()["$defs"]
    text = dumps(tern).replace('"kind": "mixer"', '"kind": "tuned"')
    with pytest.raises(FileError, match="a kind of stage that Copperclad does not know"):
        loads(text)


def test_the_schema_tells_it(known):
    schema = Project.model_json_schema()
    assert schema["$defs"]["TunedAmplifier"]["properties"]["resonance_hz"]["title"] == "Resonance"
    kinds = schema["properties"]["stages"]["items"]["discriminator"]["mapping"]
    assert kinds["tuned"] == "#/$defs/TunedAmplifier"
    assert set(kinds) == set(STAGES) == set(KINDS)


def test_the_levels_count_it_at_its_frequency_and_between_its_neighbours(tuned):
    analysis = Analysis(tuned)
    for dial_hz in (14.1e6, 14.2e6, 14.35e6):
        (block,) = [b for b in analysis.blocks("20m", "receive", dial_hz) if b.stage == "tuned"]
        assert (block.zone, block.role) == ("rf", "amplifier")
        assert block.gain_db == pytest.approx(15.0 - beside_db(dial_hz, COIL_H, 1e-9), abs=1e-9)
        # The band-pass before it shows its far end.
        before = analysis.filter_design("band_pass", "20m")
        assert isinstance(before, FilterDesign)
        s22 = solve(before.circuit, [dial_hz]).s[1, 1, 0]
        assert block.noise_figure_db == pytest.approx(3.0 - 10 * log10(1 - abs(s22) ** 2), abs=1e-9)
    # Each neighbour shows the side that faces the stage; the band-pass's sides are made unlike.
    filters = [n for n, stage in enumerate(tuned.stages) if stage.id in ("band_pass", "ladder")]
    unlike = tuned.edited(("stages", "band_pass", "filters", 0, "as_built"), {"end:1": 4e-11})
    unlike = unlike.edited(("stages", "tuned", "direction"), "both")
    for position, faces in ((filters[0] + 1, 1), (filters[0], 0)):
        analysis = Analysis(unlike.stage_moved("tuned", position))
        design = analysis.filter_design("band_pass", "20m")
        s = solve(design.circuit, [14.2e6]).s[:, :, 0]
        assert abs(abs(s[0, 0]) - abs(s[1, 1])) > 0.01
        seen_db = -10 * log10(1 - abs(s[faces, faces]) ** 2)
        for way in ("receive", "transmit"):
            (block,) = [b for b in analysis.blocks("20m", way, 14.2e6) if b.stage == "tuned"]
            # On the antenna's side of the stage it is the source in receive, and the load in transmit.
            source = (way == "receive") == (faces == 1)
            noisier, weaker = block.noise_figure_db - 3.0, 12.0 - block.p1db_out_dbm
            assert (noisier if source else weaker) == pytest.approx(seen_db, abs=1e-9)
    # At the IF it is asked what it does to the tone of speech there.
    moved = Analysis(tuned.stage_moved("tuned", tuned.stages.index(tuned.stage("ladder"))))
    (block,) = [b for b in moved.blocks("20m", "receive", 14.2e6) if b.stage == "tuned"]
    tone_hz = moved.carrier("20m").signal_hz(1000.0)
    assert block.zone == "if"
    assert tone_hz != pytest.approx(moved.project.if_hz, abs=1.0)
    assert block.gain_db == pytest.approx(15.0 - beside_db(tone_hz, COIL_H, 1e-9), abs=1e-6)


def test_behind_the_detector_it_is_asked_for_a_tone_of_speech(tuned):
    low = tuned.edited(("stages", "tuned", "resonance_hz"), 1100.0)
    behind = low.stage_moved("tuned", len(low.stages) - 1)
    (block,) = [b for b in Analysis(behind).blocks("20m", "receive", 14.2e6) if b.stage == "tuned"]
    coil_h = 1 / ((2 * pi * 1100.0) ** 2 * 1e-9)
    assert block.zone == "audio"
    assert block.gain_db == pytest.approx(15.0 - beside_db(1000.0, coil_h, 1e-9), abs=1e-6)


def test_receiver_diagram_and_strip_have_it(tuned, tern):
    analysis = Analysis(tuned)
    plain, more = Analysis(tern).receive("20m"), analysis.receive("20m")
    (block,) = [b for b in more.blocks if b.stage == "tuned"]
    # A block is matched at both ends, which its neighbours were not quite to one another.
    assert more.gain_db == pytest.approx(plain.gain_db + block.gain_db, abs=0.1)
    picture = level_diagram.picture_of(analysis, None, RECEIVE)
    assert "tun" in [name.strip() for _, name in picture.stages]
    island = next(each for each in strip_of(analysis, (), RECEIVE).islands if each.stage == "tuned")
    at_dial = 15.0 - beside_db(14.2e6, COIL_H, 1e-9)
    assert island.figure == f"+{at_dial:.1f} dB"
    first, *_ = island.help.splitlines()
    assert first == "Tuned amplifier; the figure is its gain at the dial, not at resonance"
    assert analysis._gain_ahead_db("20m") == pytest.approx(
        Analysis(tern)._gain_ahead_db("20m") + block.gain_db
    )


def test_a_mixer_is_named_for_what_it_does(tern):
    for way, names in (("receive", ["mix", "det"]), ("transmit", ["mod", "mix"])):
        picture = level_diagram.picture_of(Analysis(tern), None, Look("20m", way, 14.2e6, ()))
        shown = [name.strip() for _, name in picture.stages]
        assert [name for name in shown if name in ("mix", "det", "mod")] == names


def test_report_parts_list_netlist_and_rules_have_it(tuned):
    built = tuned.edited(("stages", "tuned", "as_built"), {"tuning": 1.1e-9})
    analysis = Analysis(built)
    rows = [row for row in report(analysis)["parts"] if row["stage"] == "tuned"]
    assert [(row["ref"], row["designed"], row["as_built"]) for row in rows] == [
        ("L", pytest.approx(COIL_H), None),
        ("CV", 1e-9, 1.1e-9),
    ]
    assert [row.part.ref for row in parts_list(analysis) if row.stage == "tuned"] == ["L", "CV"]
    line = next(
        each for each in parts_csv(analysis).splitlines() if each.startswith("Tuned one,20 m 12 m,CV")
    )
    assert line.split(",")[3] == "capacitor"
    assert line.split(",")[8:11] == ["1000", "1000", "1100"]
    assert "1.1e-09" in netlist_of(analysis, "tuned", "20m")
    # No filter, and none in the list of filters.
    assert "tuned" not in [row["stage"] for row in report(analysis)["filters"]]
    assert "Tuned one is not a filter." in analysis.filter_design("tuned", "20m").reason
    # As built it is another circuit.
    (block,) = [b for b in analysis.blocks("20m", "receive", 14.2e6) if b.stage == "tuned"]
    assert block.gain_db == pytest.approx(15.0 - beside_db(14.2e6, COIL_H, 1.1e-9), abs=1e-9)
    # What cannot be made is told, and counts as amplifying without its circuit.
    broken = Analysis(built.edited(("stages", "tuned", "resonance_hz"), 200e6))
    (told,) = [each for each in inspect(broken) if each.rule == "filter_unsolved"]
    assert (told.stage, told.path) == ("tuned", ("stages", "tuned"))
    assert told.text == "A tuned amplifier works up to 100 MHz; ask for a lower resonance."
    (block,) = [b for b in broken.blocks("20m", "receive", 14.2e6) if b.stage == "tuned"]
    assert block.gain_db == 15.0


def test_a_tolerance_run_scatters_its_parts(tuned):
    (tried,) = [each for each in scattered.scatterable(Analysis(tuned)) if each.stage == "tuned"]
    scatter = Scatter(capacitor_tolerance=0.05, coil_tolerance=0.02, trials=100)
    run = scattered.run(tried, scatter)
    drawn_values = draw(tried.design.circuit, scattered.spreads(scatter), 100)
    dial = np.concatenate([np.linspace(low, high, 21) for low, high in tried.dials])
    worst = [
        max(beside_db(f, coil, tuning) for f in dial)
        for coil, tuning in zip(drawn_values["L"][:, 0], drawn_values["CV"][:, 0], strict=True)
    ]
    assert run.of("dial_loss") == pytest.approx(worst)
    assert run.measured[0].nominal == pytest.approx(max(beside_db(f, COIL_H, 1e-9) for f in dial))
    assert {ref for ref, _ in run.shares} == {"L", "CV"}


def test_the_sheet_prints_it(tuned, qapp, tmp_path):
    (section,) = [each for each in build_sheet(Analysis(tuned)).filters if each.title == "Tuned one"]
    assert [each.ref for each in section.parts] == ["L", "CV"]
    assert isinstance(section.drawing, TunedDrawing)
    assert (section.curve, section.reason) == (None, "")
    # What it is in its place, of which three are to be measured.
    assert dict(section.figures)["gain"] == "+15.0 dB"
    assert [name for name, _ in section.verify] == ["gain", "1 dB compression, output", "noise figure"]
    write_pdf(tuned, tmp_path / "sheet.pdf")
    text = subprocess.run(
        ["pdftotext", "-layout", str(tmp_path / "sheet.pdf"), "-"], check=True, capture_output=True, text=True
    ).stdout
    assert "Tuned one" in text
    assert "tuned by L CV" in text


def edit_of(widget):
    return widget if isinstance(widget, QLineEdit) else widget.findChild(QLineEdit)


def test_form_and_parts_table_edit_it(tuned, bench, qtbot):
    bench.start(tuned)
    bench.select(("stages", "tuned"))
    panel = EditorPanel(bench)
    qtbot.addWidget(panel)
    panel.resize(340, 800)
    panel.show()
    panel.refresh(bench)
    assert (panel.title.text(), panel.subtitle.text()) == ("Tuned one", "Tuned amplifier")
    panel.focus(("stages", "tuned", "resonance_hz"))
    field = panel.focusWidget()
    field.selectAll()
    qtbot.keyClicks(field, "14.3 MHz")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    assert bench.current.stage("tuned").resonance_hz == 14.3e6
    panel.refresh(bench)
    assert not panel.parts.isHidden()
    model = panel.parts.table.model()
    assert [model.index(row, 0).data() for row in range(model.rowCount())] == ["L", "CV"]
    index = model.index(1, AS_BUILT)
    panel.parts.table.setCurrentIndex(index)
    panel.parts.table.edit(index)
    edit = edit_of(panel.parts.table.indexWidget(index) or panel.parts.table.findChildren(NumberField)[-1])
    edit.selectAll()
    qtbot.keyClicks(edit, "1.2 nF")
    qtbot.keyClick(edit, Qt.Key.Key_Return)
    assert bench.current.stage("tuned").as_built == (("tuning", 1.2e-9),)
    (block,) = [b for b in bench.analysis.blocks("20m", "receive", 14.2e6) if b.stage == "tuned"]
    coil_h = 1 / ((2 * pi * 14.3e6) ** 2 * 1e-9)
    assert block.gain_db == pytest.approx(15.0 - beside_db(14.2e6, coil_h, 1.2e-9), abs=1e-9)


def test_it_is_inserted_from_the_menu_and_shown_by_its_view(known, bench, qtbot):
    path = SignalPath(bench)
    qtbot.addWidget(path)
    path.resize(1300, 140)
    path.show()
    path.refresh(bench)
    menu = path.strip.kind_menu(3)
    (action,) = [each for each in menu.actions() if each.text() == "Tuned amplifier"]
    action.trigger()
    stage = bench.current.stage("tuned")
    assert isinstance(stage, TunedAmplifier)
    assert stage.resonance_hz == bench.current.bands[0].centre_hz
    bench.select(("stages", "tuned"))
    page = StagePage(bench)
    qtbot.addWidget(page)
    page.resize(900, 600)
    page.show()
    page.refresh(bench)
    assert type(page.view) is TunedView
    assert page.view.table.item(0, 0).text() == "gain"
    # The block's view draws the circuit too.
    qtbot.waitUntil(lambda: "tuned by L CV" in page.view.schematic.svg)


def test_no_source_asks_what_kind_a_stage_is():
    """Outside the tables and the models nothing tests for a kind, by its model or by its word."""
    top = Path(__file__).parents[2]
    models = {model.__name__ for model in STAGES.values()}
    found = []
    for file in sorted([*top.glob("core/**/*.py"), *top.glob("app/**/*.py")]):
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("isinstance", "issubclass"):
                names = {each.id for each in ast.walk(node.args[1]) if isinstance(each, ast.Name)}
                asked = bool(names & models)
            elif isinstance(node, ast.Compare):
                of_kind = "kind" in {getattr(node.left, "attr", ""), getattr(node.left, "id", "")}
                right = (each for side in node.comparators for each in ast.walk(side))
                words = {each.value for each in right if isinstance(each, ast.Constant)}
                asked = of_kind and bool(words & set(STAGES))
            else:
                continue
            if asked:
                found.append(f"{file.relative_to(top)}:{node.lineno}")
    assert found == []
