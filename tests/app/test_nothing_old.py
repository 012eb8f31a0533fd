"""Nothing shown is old: after any edit every part of the window shows what a new one would."""

from typing import Literal, get_args, get_origin

import numpy as np
import pytest
from PySide6.QtCore import QCoreApplication, QEvent

from app.pages.board_plan import BoardPlanPage
from app.pages.crystals import CrystalsPage
from app.pages.if_survey import IfSurveyPage
from app.pages.levels import LevelsPage
from app.pages.read_out import ReadOutPage
from app.pages.stage import StagePage
from app.pages.supply.page import SupplyPage
from app.pages.tolerance import TolerancePage
from app.pages.whole_rig import WholeRigPage
from app.panels.editor_panel import EditorPanel
from app.panels.findings_panel import FindingsPanel
from app.panels.frequency_bar import FrequencyBar
from app.panels.signal_path import SignalPath
from app.state.settings import Settings
from app.state.workbench import Workbench
from app.widgets.two_way import TwoWay
from core.model.boards.board import Board, Fitting, Packaged, Panel, Placed
from core.model.boards.package import OwnPackage
from core.model.measured import MeasuredCurve
from core.model.notebook.bench_log import LogReading, Photograph
from core.model.notebook.junk_box import CapacitorOnHand, CrystalOnHand
from core.model.readings import readings_of
from core.model.stages.filters import Crystal
from core.model.stages.oscillators import CrystalCircuit, HelperOscillator
from core.model.stages.tank import points_of
from core.model.supply.supply import Decoupling
from core.model.transistors import OwnTransistor
from core.model.values.base import Model
from core.rig.supply.soldered import supply_soldered
from core.stages.outcome import Unsolved
from core.trade.crystals import stock
from tests.app.shown import shown_of

#: What tells things apart or is the file's business; curves are stored with the readings that name them,
#: and a draft stands only where no readings do.
_NOT_EDITED = {"id", "kind", "schema_version", "sweeps", "draft"}
#: Edited whole, as the table that they are typed in.
_WHOLE = {"readings"}


def places(model, path=()):
    """Every field of a design, down to its leaves."""
    for name in type(model).model_fields:
        value = getattr(model, name)
        if isinstance(value, Model):
            yield from places(value, (*path, name))
        elif isinstance(value, tuple) and value and isinstance(value[0], Model) and name not in _WHOLE:
            for place, member in enumerate(value):
                yield from places(member, (*path, name, getattr(member, "id", place)))
        elif name not in _NOT_EDITED:
            yield (*path, name)


def candidates(bench, path, value):
    """Other values that a field may take, the likely ones first."""
    name = path[-1]
    field = type(bench.current.at(path[:-1])).model_fields[name]
    if isinstance(value, bool):
        return [not value]
    if name == "as_built":
        return [*fitted(bench, path), ()]
    if name == "table":
        return [points_of("0 100p; 50 60p; 100 10p")]
    if name == "readings":
        return [readings_of(READINGS)]
    if name == "bands":
        return [(band.name,) for band in bench.current.bands]
    if name == "crystals_hz":
        return [(9e6, 4.9152e6)]
    if name == "circuit" and value is None:
        return [CrystalCircuit()]
    if name == "helper" and value is None:
        return [HelperOscillator()]
    if name == "left_out":
        return [("Q1",)]
    if name == "transistors":
        return [(OwnTransistor(),)]
    if name == "feeds":
        return [value[:-1]]
    if name == "decoupling":
        return [Decoupling(resistor_ohm=33.0)]
    if name == "parts":
        return [(CapacitorOnHand(), CrystalOnHand(frequency_hz=9e6))]
    if name == "log":
        return [(LogReading(about="figure", stage="ladder", key="insertion_loss_db", value=3.2, unit="dB"),)]
    if name == "photographs":
        return [(Photograph(name="board.jpg", digest="0" * 64, caption="The board"),)]
    if name == "boards":
        placed, packaged = Placed(key="coil:1", x_m=0.01, y_m=0.0), Packaged(key="coil:1", package="lying")
        return [(Board(stage="low_pass", places=(placed,), packages=(packaged,)),)]
    if name == "packages":
        return [(OwnPackage(),)]
    if name == "panels":
        return [(Panel(fittings=(Fitting(kind="bnc", x_m=0.02, y_m=0.03),)),)]
    if name == "crystal":
        return [Crystal(offset_hz=700)]
    if name == "measured":
        return [(swept(bench.analysis.filters[0]),)]
    if isinstance(value, tuple):
        return [tuple(1.07 * each for each in value), (10e-12, 100e-12)]
    options = [each for each in literals(field.annotation) if each != value]
    if options:
        return options
    if isinstance(value, str):
        return ["17m", "15m", "10m"] if path[0] == "bands" else [value + " anew"]
    if isinstance(value, int):
        return [value + 1, value - 1, value + 2]
    if value is None:
        return [*(10.0**n for n in (-12, -10, -6, -5, -2, 0.3, 1, 1.7, 3)), 4e6, 14.1e6, 9.0e6]
    return [1.07 * value, value + 3, 0.93 * value, value - 3, 2e-12]


def literals(annotation):
    if get_origin(annotation) is Literal:
        return list(get_args(annotation))
    return [each for option in get_args(annotation) for each in literals(option)]


def fitted(bench, path):
    """As-built values a little off for the first two parts of a stage, the tank or a piece of the supply."""
    if path[0] == "supply":
        made = supply_soldered(bench.analysis)
        here = [row for row in made.parts if made.places.get(row.ref, ((), ""))[0] == path]
        return [{made.places[row.ref][1]: 0.9 * row.fitted for row in here[:2]}] if here else []
    if path[0] == "vfo":
        made = bench.analysis.tank
    else:
        stage = bench.current.stage(path[1])
        if stage.kind == "gain_control" and stage.track_ohm is None:
            return [{"potentiometer": 12e3}]
        if stage.kind == "mixer" and not stage.members:
            return [{"potentiometer": 22.0}]
        serves = getattr(stage.filters[path[3]], "bands", ()) if len(path) > 3 else (bench.band_name,)
        made = bench.analysis.design(stage.id, serves[0]) if serves else None
    if made is None or isinstance(made, Unsolved):
        return []
    valued = [row for row in made.parts if row.kind in ("resistor", "capacitor", "inductor", "crystal")]
    return [{row.key: 1.04 * row.fitted for row in valued[:2]}]


def swept(row):
    """A curve of a filter of which one part is a little off."""
    f_hz = np.linspace(*row.design.span_hz, 101)
    part = next(each for each in row.design.network.parts if each.kind != "crystal")
    loss = row.design.response(f_hz, {part.ref: 1.04 * part.value}).loss_db
    band = "" if row.index is None else row.own_band
    s21_db = np.round(-np.minimum(loss, 150), 3).tolist()
    return MeasuredCurve(stage=row.stage, band=band, f_hz=f_hz.tolist(), s21_db=s21_db)


READINGS = "label,peak (MHz),bandwidth,loss\n" + "\n".join(
    f"Q{n},{19.6600 + n * 40e-6:.6f},{170 + 5 * n},1.{n}" for n in range(12)
)


#: Stands for whatever the edited field belongs to.
EDITED = ("edited",)


class AtOnce:
    """Long work, done while one waits."""

    def start(self, slot, work, done, progressed=None):
        done(work(None))

    def cancel(self, slot):
        pass


class Scene:
    """A design, every part of the window that shows it, and a stage page for each thing to select."""

    def __init__(self, project, way, band, look):
        self.bench = Workbench(project)
        self.bench.look_at_way(way)
        self.bench.look_at_band(project.bands[band].name)
        self.bench.hold()
        self.edited = ()
        self.way, self.look = way, look
        self.kept = self.made()

    def made(self):
        """Every part, new: place to the part and what is selected while one looks at it."""
        bench = self.bench
        parts = {
            "bar": (FrequencyBar(bench), ()),
            "path": (SignalPath(bench), ()),
            "findings": (FindingsPanel(bench), ()),
            "the rig": (EditorPanel(bench), ()),
            "editor": (EditorPanel(bench), EDITED),
            "whole rig": (WholeRigPage(bench), ()),
            "levels": (LevelsPage(), ()),
            "read-out": (ReadOutPage(bench), ()),
            "supply": (SupplyPage(bench), ()),
            "crystals": (CrystalsPage(bench), ()),
            "tolerance": (TolerancePage(bench, AtOnce()), ()),
            "board plan": (BoardPlanPage(bench, Settings()), EDITED),
            "survey": (IfSurveyPage(bench, AtOnce()), ()),
        }
        # A page for each kind of stage and way: those of the same fields are edited together.
        first = {(stage.kind, stage.direction): stage.id for stage in reversed(bench.current.stages)}
        stages = [("stages", key) for key in first.values()]
        for selection in [("vfo",), ("carrier",), *stages]:
            parts[f"{selection[-1]}, plots"] = (StagePage(bench), selection)
        for part, selection in parts.values():
            self.look_at(selection)
            part.refresh(bench)
            part.settle(bench)
            for choice in part.findChildren(TwoWay):
                choice.buttons[min(self.look, len(choice.buttons) - 1)].click()
        return parts

    def look_at(self, selection):
        """Select something, in the direction looked at or in the one it works in."""
        selection = self.edited if selection == EDITED else selection
        self.bench.look_at_way(self.way)
        self.bench.select(selection)

    def refresh(self, parts):
        """Let every part show the present state."""
        for part, selection in parts.values():
            self.look_at(selection)
            part.refresh(self.bench)
            part.settle(self.bench)

    def shown(self, parts):
        """What every part shows of the present state."""
        self.refresh(parts)
        found = {}
        for name, (part, _) in parts.items():
            found |= shown_of(part, name)
        return found

    def old(self, fresh=None):
        """Where something old is shown, against what is shown when everything is drawn anew."""
        # Widgets that were given up are gone before one looks.
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        kept = self.shown(self.kept)
        if fresh is None:
            for part, _ in self.kept.values():
                part.restyle()
        now = self.shown(fresh or self.kept)
        return {
            where: (kept.get(where), now.get(where))
            for where in kept | now
            if kept.get(where) != now.get(where)
        }


def alike(project):
    """The places of a design, those of the same field of the same kind of thing together."""
    found = {}
    for path in places(project):
        found.setdefault((type(project.at(path[:-1])).__name__, path[-1]), []).append(path)
    return found


def edit(bench, path):
    """Give a field another value; whether there was one that makes a design."""
    before = bench.current
    for value in candidates(bench, path, bench.current.at(path)):
        bench.edit(path, value)
        if bench.current is not before:
            return True
    return False


#: The samples, the other one, and how they are looked at. What both have is edited in either by turns.
_LOOKS = [("tern", "muddle", "receive", 0, 0), ("muddle", "tern", "transmit", 1, 1)]


def edited_in(project, other, turn):
    """Groups of places that are edited in a design: what it alone has, and half of what both have."""
    own, others = alike(project), alike(other)
    shared = sorted(key for key in own if key in others)
    return [places for key, places in own.items() if key not in others or shared.index(key) % 2 == turn]


def together(groups, count=3):
    """Every group once, with others of other kinds of things: a third of the time."""
    share = -(-len(groups) // count)
    for number in range(share):
        yield [path for group in groups[number::share] for path in group]


@pytest.fixture
def _few_crystals(monkeypatch):
    """The survey goes through some of the stock: what it shows follows from the same."""
    few = stock()[::8]
    monkeypatch.setattr("app.pictures.bench.survey.stock", lambda: few)


@pytest.mark.usefixtures("_few_crystals")
@pytest.mark.parametrize(("name", "beside", "way", "band", "look"), _LOOKS)
def test_every_part_of_the_window_follows_every_field(qapp, request, name, beside, way, band, look):
    project = request.getfixturevalue(name)
    scene = Scene(project, way, band, look)
    bench = scene.bench
    assert scene.old() == {}
    groups = edited_in(project, request.getfixturevalue(beside), look)
    for number, paths in enumerate(together(groups)):
        scene.edited = paths[-1][:-1]
        edited = [edit(bench, path) for path in paths]
        assert all(edited), paths
        assert scene.old() == {}, paths
        # Back to the design as it was, with another one held: looked at now and then, and with the next edit.
        bench.hold()
        while bench.history.undo_label is not None:
            bench.undo()
        if number % 4 == 0:
            assert scene.old() == {}, ("held", *paths)
    assert scene.old(scene.made()) == {}


def test_every_field_of_both_samples_is_edited_in_one_of_them(tern, muddle):
    edited = [*edited_in(tern, muddle, 0), *edited_in(muddle, tern, 1)]
    keys = [(path[-1], type(rig.at(path[:-1])).__name__) for rig in (tern, muddle) for path in places(rig)]
    done = {path[-1] for group in edited for path in group}
    assert {name for name, _ in keys} == done
    assert len(edited) == len(set(keys))
    assert sum(map(len, together(edited))) == sum(map(len, edited))
