"""Bench log: what was read against what is expected, why it is out, and readings taken into the design."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from app.pages.beside import in_a_column, scrolled
from app.pages.notebook.photographs import PhotographsView, now
from app.pages.notebook.progress_bars import ProgressBars
from app.pages.notebook.read_besides import ReadBesides
from app.pictures.bench.bench_log import (
    DATE,
    FILTERS,
    HEADS,
    HELP,
    NOTE,
    READ,
    TOLERANCE,
    Chosen,
    LogLine,
    LogPicture,
    picture_of,
)
from app.plots.base import Card
from app.state.seeking import Seeking
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.choice_box import ChoiceBox
from app.widgets.drawn import Drawn
from app.widgets.flow_row import FlowRow
from app.widgets.two_way import TwoWay
from app.widgets.typed_table import TypedLine, TypedTable
from app.widgets.view import View
from core.model.notebook.bench_log import LogReading
from core.model.project import Project
from core.model.values.errors import CopperError
from core.rig.built.measured import fit_of, with_fitted, without_curve
from core.rig.findings import Edit
from core.rig.log.bench_log import reading_of, with_tolerance, with_value
from core.rig.log.causes import Causes, causes, causes_of_curve
from core.rig.log.curves import Swept
from core.rig.log.item import Item
from core.rig.log.knobs import Cause
from core.rig.log.taken import taking
from core.stages.outcome import Unsolved
from core.stages.steps import Steps

_LOG = ("log",)
_LEAST_HEIGHT, _NARROW_HEIGHT = 400, 560
#: Columns that are left out of a page narrower than this, pixels.
_LEFT_OUT_BELOW = {TOLERANCE: 680, DATE: 820}
#: Causes beyond so much height scroll, pixels.
_WHY_HEIGHT = 84
_ALL_STAGES = "all stages"
#: What is told once a reading was taken.
_TAKEN = "{}: taken into the design; what differs from the held one stands at the left."


class BenchLogPage(Drawn[LogPicture], View):
    """Progress, the table, what is behind the line that is looked at, and photographs in its place."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self._bench = bench
        self._chosen = Chosen()
        #: What the causes on show are of.
        self._explained: object = None
        self.whole = Text()
        self.bars = ProgressBars()
        self.bars.clicked.connect(lambda name: self._choose(stage=name))
        self.verdict = ChoiceBox(least=14)
        self.verdict.setAccessibleName("Lines shown")
        for word, spelled in FILTERS.items():
            self.verdict.addItem(spelled, word)
        self.verdict.activated.connect(lambda n: self._choose(verdict=self.verdict.itemData(n)))
        self.stage = ChoiceBox(least=14)
        self.stage.setAccessibleName("Stage shown")
        self.stage.activated.connect(lambda n: self._choose(stage=self.stage.itemData(n)))
        self.table = TypedTable("Bench log", self._give, down=True, long=NOTE)
        self.table.setMinimumHeight(100)
        self.table.picked.connect(self._show_present)
        self.table.removed.connect(self._remove)
        self.table.told.connect(self._tell)
        self.told = Text()
        self.told.setWordWrap(True)
        self.told.setVisible(False)
        self.why = Text()
        self.why.setWordWrap(True)
        self.why.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.take = QPushButton("Take into the design")
        self.take.setToolTip(
            "The reading counts instead of what was computed, as a part's value as built or in place of "
            "a figure, or a part that explains it is taken as built; the design as it was is held, so that "
            "what differs is seen. One undo takes it back"
        )
        self.take.clicked.connect(self._take)
        self.taken_as = ChoiceBox(least=22)
        self.taken_as.setAccessibleName("What is taken")
        self.taken_as.setToolTip(
            "What of it is taken into the design: the reading, or a part that explains it"
        )
        self._edits: list[Edit] = []
        self.again = QPushButton("Read again")
        self.again.setToolTip("Adds a line for another reading of the same")
        self.again.clicked.connect(self._read_again)
        self.remove = QPushButton("Remove")
        self.remove.setToolTip("Takes the reading out of the log; Delete in the table does the same")
        self.remove.clicked.connect(lambda: self._remove(self.table.row))
        self.besides = ReadBesides(self._add)
        self.besides.told.connect(self._tell)
        self._seeking = Seeking(self)
        self._seeking.found.connect(self._show_causes)
        self.views = TwoWay(("readings", "photographs"), "Shown of the log")
        self.views.chosen.connect(lambda place: self._show_view(photographs=place == 1))
        self.photographs = PhotographsView(bench)
        self._readings = self._lay_out_readings()
        self.card = Card(
            "Bench log", in_a_column(self._readings, self.photographs, stretch=(1, 1)), corner=self.views
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.card, 1)
        self.photographs.setVisible(False)

    def _lay_out_readings(self) -> QWidget:
        chosen = FlowRow(spacing=8)
        for part in (self.whole, self.verdict, self.stage):
            chosen.add(part)
        buttons = FlowRow(spacing=6)
        what_is_done: tuple[QWidget, ...] = (self.take, self.taken_as, self.again, self.remove)
        for each in what_is_done:
            buttons.add(each)
        self._room = scrolled(self.why)
        self._room.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._room.hide()
        return in_a_column(
            chosen,
            self.bars,
            self.table,
            self.told,
            self._room,
            buttons,
            self.besides,
            stretch=(0, 0, 1),
        )

    def fold(self, narrow: bool) -> None:
        self.setMinimumHeight(_NARROW_HEIGHT if narrow else _LEAST_HEIGHT)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        # What a narrow table has no room for is told of the line that is looked at.
        self.table.leave_out(frozenset(c for c, least in _LEFT_OUT_BELOW.items() if self.width() < least))
        self._say_why(self.why.text())

    def _say_why(self, text: str) -> None:
        """Tell something of the line that is looked at, in as much height as that takes."""
        self.why.setText(text)
        self._room.setVisible(bool(text))
        needed = self.why.heightForWidth(max(self._room.viewport().width(), 200))
        self._room.setFixedHeight(min(needed + 4, _WHY_HEIGHT))

    # -- what is shown -----------------------------------------------------------------------------------

    def refresh(self, bench: Workbench) -> None:
        self.show_picture(picture_of(bench.analysis, self._chosen))
        self.photographs.refresh(bench)

    def draw(self, picture: LogPicture) -> None:
        self.whole.setText(picture.whole.words)
        self.bars.show_progress(picture.stages, picture.chosen.stage)
        self._show_choices(picture)
        self.table.show_lines(
            HEADS,
            HELP,
            [TypedLine(each.key, each.cells, each.typed, each.help, each.colour) for each in picture.lines],
        )
        self._explained = None
        self._show_present()

    def _show_choices(self, picture: LogPicture) -> None:
        names = ["", *(each.name for each in picture.stages)]
        if [self.stage.itemData(n) for n in range(self.stage.count())] != names:
            self.stage.clear()
            for name in names:
                self.stage.addItem(name or _ALL_STAGES, name)
        self.besides.offer(picture.log.known)
        self.stage.setCurrentIndex(max(self.stage.findData(picture.chosen.stage), 0))
        self.verdict.setCurrentIndex(max(self.verdict.findData(picture.chosen.verdict), 0))

    def restyle(self) -> None:
        self.table.restyle()
        self.bars.update()

    def _show_view(self, *, photographs: bool) -> None:
        self._readings.setVisible(not photographs)
        self.photographs.setVisible(photographs)

    @property
    def line(self) -> LogLine | None:
        """The line that is looked at."""
        row = self.table.row
        lines = () if self._drawn is None else self._drawn.lines
        return lines[row] if row is not None and row < len(lines) else None

    def _show_present(self) -> None:
        line = self.line
        read = line is not None and line.read
        self.again.setEnabled(read and line is not None and line.entry is not None)
        self.remove.setEnabled(read)
        self.take.setEnabled(read)
        if line is None or line.key == self._explained:
            if line is None:
                self._say_why("")
                self._offer(())
            return
        self._explained = line.key
        self._offer(())
        if line.verdict != "out":
            self._say_why(f"{line.told} {line.help}".strip())
            return
        self._say_why(f"{line.told} Looking for what may be behind it…")
        self._seeking.begin(self._behind(line))

    def _behind(self, line: LogLine) -> Steps[Causes]:
        """What may be behind a line that is out."""
        analysis = self._bench.analysis
        if line.entry is not None:
            return (yield from causes(analysis, self.picture.log, line.entry))
        assert line.curve is not None  # a line shows one of them
        found = causes_of_curve(analysis, line.curve)
        yield
        return Causes(words=f"{line.help} {found.words}")

    def _show_causes(self, found: Causes) -> None:
        line = self.line
        if line is not None and line.verdict == "out":
            first = f"{line.told} {found.words}".strip()
            self._say_why("\n".join([first, *(f"· {each.words}" for each in found.causes)]))
            self._offer(found.causes)

    def _offer(self, causes: Sequence[Cause]) -> None:
        """Offer what can be taken of the line that is looked at: the reading itself, and causes of it."""
        line = self.line
        self._edits = []
        self.taken_as.clear()
        if line is not None and line.entry is not None and line.read:
            found = taking(self._bench.analysis, self.picture.log, line.entry)
            if not isinstance(found, Unsolved):
                self._edits.append(found)
                self.taken_as.addItem("the reading")
        for each in causes:
            if each.edit is not None:
                self._edits.append(each.edit)
                self.taken_as.addItem(each.words)
        self.taken_as.setVisible(bool(self._edits))

    @property
    def busy(self) -> bool:
        """Whether more is to be shown soon."""
        return self._seeking.busy

    def _tell(self, text: str) -> None:
        self.told.setText(text)
        self.told.setVisible(bool(text))

    # -- what the builder does ---------------------------------------------------------------------------

    def _choose(self, **what: str) -> None:
        self._chosen = Chosen(**{"verdict": self._chosen.verdict, "stage": self._chosen.stage, **what})
        self.refresh(self._bench)

    def _give(self, row: int, column: int, text: str) -> str | None:
        """Put what was typed into a line."""
        line = self.picture.lines[row]
        if line.curve is not None:
            path = ("measured", line.curve.number, "date" if column == DATE else "note")
            return self._bench.edit(path, text)
        entry = line.entry
        assert entry is not None  # a line shows one of them
        try:
            if entry.reading is None:
                return self._append(reading_of(entry.item, text, now()), entry.item)
            changed = _changed(entry.item, entry.reading, column, text)
        except CopperError as error:
            return str(error)
        assert entry.number is not None
        return self._bench.edit((*_LOG, entry.number), changed)

    def _append(self, reading: LogReading, item: Item) -> str | None:
        def made(project: Project) -> Project:
            return project.edited(_LOG, (*project.log, reading))

        return self._bench.change(made, label=f"reading {item.title}")

    def _add(self, item: Item, text: str) -> str | None:
        """Take a reading of what the list may lack."""
        try:
            refused = self._append(reading_of(item, text, now()), item)
        except CopperError as error:
            return str(error)
        if refused is None:
            self._show_reading_of(item)
        return refused

    def _show_reading_of(self, item: Item) -> None:
        self.refresh(self._bench)
        rows = [
            n
            for n, each in enumerate(self.picture.lines)
            if each.entry and each.entry.item.place == item.place
        ]
        if rows:
            self.table.pick(rows[-1], READ)

    def _read_again(self) -> None:
        line = self.line
        if line is None or line.entry is None or line.entry.reading is None:
            return
        item, reading = line.entry.item, line.entry.reading
        again = reading.edited(("date",), now()).edited(("note",), "")
        if self._append(again, item) is None:
            self._show_reading_of(item)
            row = self.table.row
            if row is not None:
                self.table.type_in(row, READ)

    def _remove(self, row: int | None) -> None:
        line = None if row is None else self.picture.lines[row]
        if line is not None and line.curve is not None:
            self._with_curve(without_curve, line.curve, "removing a measured curve")
            return
        entry = None if line is None else line.entry
        number = None if entry is None else entry.number
        if entry is not None and number is not None:
            self._bench.change(
                lambda project: project.edited(_LOG, (*project.log[:number], *project.log[number + 1 :])),
                label=f"taking out a reading of {entry.item.title}",
            )

    def _take(self) -> None:
        line = self.line
        if line is not None and line.curve is not None:
            self._take_curve(line.curve)
        if line is None or line.entry is None:
            return
        if not self._edits:
            reason = taking(self._bench.analysis, self.picture.log, line.entry)
            self._tell(reason.reason if isinstance(reason, Unsolved) else "")
            return
        found = self._edits[max(self.taken_as.currentIndex(), 0)]
        self._hold()
        refused = self._bench.change(found.on, label=found.label)
        self._tell(refused or _TAKEN.format(found.label))

    def _take_curve(self, of: Swept) -> None:
        label = "parts as the measured curve has them"
        found = fit_of(self._bench.analysis, of.curve)
        if isinstance(found, Unsolved):
            self._tell(found.reason)
            return
        self._hold()
        refused = self._with_curve(with_fitted, of, label)
        self._tell(refused or _TAKEN.format(f"{of.name}: {label}"))

    def _hold(self) -> None:
        if self._bench.held is None:
            self._bench.hold()

    def _with_curve(self, made: Callable[..., Project], of: Swept, label: str) -> str | None:
        """Change the design by what is made of one of its curves."""
        curve, analysis = of.curve, self._bench.analysis
        band = curve.band or analysis.project.bands[0].name
        return self._bench.change(lambda _: made(analysis, curve.stage, band, curve.way), label=label)


def _changed(item: Item, reading: LogReading, column: int, text: str) -> LogReading:
    """A reading with what was typed into a column."""
    if column == READ:
        return with_value(item, reading, text)
    if column == TOLERANCE:
        return with_tolerance(item, reading, text.lstrip("≥≤ +−-"))
    return reading.edited(({DATE: "date", NOTE: "note"}[column],), text)
