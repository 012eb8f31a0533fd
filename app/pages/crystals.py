"""Crystals: readings of a bag of crystals, what they are, and which one goes where in the ladder."""

from pathlib import Path

import pyqtgraph as pg
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QHideEvent, QTextCursor
from PySide6.QtWidgets import (
    QFileDialog,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.pages.crystal_table import CrystalTable
from app.panels.forms import Form
from app.pictures.figures import Label
from app.plots.base import Card, Plot
from app.state.workbench import Workbench
from app.style import palette
from app.style.plain import Text
from app.widgets.figure_table import FigureTable
from app.widgets.flow_row import FlowRow
from app.widgets.folding import Folding
from app.widgets.two_way import TwoWay
from app.widgets.view import View
from core.model.bench import CrystalBatch, CrystalMethod
from core.model.disk import read_text, write_whole
from core.model.project import Project
from core.model.values.base import Path as Place
from core.model.values.errors import CopperError, DesignError, FileError
from core.model.values.notation import format_value
from core.rig.bench import crystal_bench, crystals_in_ladder
from core.rig.bench.crystal_bench import BatchRow
from core.rig.bench.crystal_guidance import guidance
from core.stages.crystals.crystal_choice import Placement
from core.stages.outcome import Unsolved

#: A pause in typing after which the readings are taken, milliseconds.
_PAUSE_MS = 400
#: More crystals than this are read in one turn of the event loop and placed in the next.
_LARGE_BAG = 500
#: The fields of the fixture that each method reads; the others are not shown.
_FIELDS: dict[CrystalMethod, frozenset[str]] = {
    "bandwidth": frozenset({"method", "source_ohm", "load_ohm", "c0_f"}),
    "series_capacitor": frozenset({"method", "capacitor_f", "oscillator_load_f", "c0_f"}),
    "parallel_capacitor": frozenset({"method", "source_ohm", "load_ohm", "capacitor_f", "c0_f"}),
    "sweep": frozenset({"method", "source_ohm", "load_ohm", "sweep_resistances", "sweep_zero"}),
}
_CHOICE_HEADS = ("response of", "loss", "worst", "−3 dB")
#: A table of fewer rows and a lower histogram would tell nothing, pixels.
_TABLE_HEIGHT, _HISTOGRAM_HEIGHT = 230, 150


#: The page scrolls before its parts get too low to read, side by side and below one another, pixels.
_LEAST_HEIGHT, _STACKED_HEIGHT = 400, 1000


class CrystalsPage(View):
    """Fixture and readings on the left; parameters, histogram and placement on the right."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self._bench = bench
        self.form = Form(CrystalBatch, bench, without=frozenset({"table"}))
        self.guidance = Text()
        self.guidance.setWordWrap(True)
        self.guidance.setProperty("look", "soft")
        self.readings = QPlainTextEdit()
        self.readings.setAccessibleName("Readings")
        self.readings.setTabChangesFocus(True)
        self.readings.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
        self.readings.setMinimumHeight(90)
        self.readings.textChanged.connect(self._typed)
        self.head = QPushButton("Insert header")
        self.head.setToolTip("Puts the row that names the columns before the readings")
        self.head.clicked.connect(self._insert_header)
        self.open = QPushButton("Open CSV…")
        self.open.clicked.connect(self._open)
        self.bring = QPushButton("Import sweeps…")
        self.bring.setToolTip(
            "Reads the sweeps that the readings name from a folder, and keeps them in the project"
        )
        self.bring.clicked.connect(self._bring)
        self.save = QPushButton("Save CSV…")
        self.save.clicked.connect(self._save)
        self.fit = QPushButton("Put the best into the ladder")
        self.fit.setToolTip(
            "Each placed crystal becomes an as-built part of the ladder; one undo takes it back"
        )
        self.fit.clicked.connect(self._fit)
        self.design = QPushButton("Design the ladder for these crystals")
        self.design.setToolTip(
            "Lm, C0 and Q of the ladder and the IF become those of the best crystals, and these are put in; "
            "one undo takes it back"
        )
        self.design.clicked.connect(self._design)
        self.table = CrystalTable()
        self.table.ticked.connect(self._ticked)
        self.order = TwoWay(("as read", "by mesh"), "Order of the crystals")
        self.order.chosen.connect(self._show_rows)
        self.choices = FigureTable(even=False, fitted=True)
        self.choices.setAccessibleName("Responses that choices give")
        self.choices.setToolTip(
            "Least loss, worst loss over the inner nine tenths of the pass-band, and −3 dB width of the "
            "ladder with the crystals chosen, with those chosen by frequency alone, and with the closest "
            "ones, sorted"
        )
        self.summary = Text()
        self.summary.setWordWrap(True)
        self.histogram = Plot("fs less the median", "Hz", "crystals", "")
        self.bars = pg.BarGraphItem(x=[], height=[], width=1.0)
        self.histogram.addItem(self.bars)
        self._lay_out()
        self._timer = QTimer(self, singleShot=True, interval=_PAUSE_MS)
        self._timer.timeout.connect(self._take)
        self._next = QTimer(self, singleShot=True, interval=0)
        self._next.timeout.connect(self._place)
        bench.settling.connect(self._settle)
        self._shown: tuple[object, ...] = ()
        self._batch: tuple[BatchRow, ...] = ()
        self._of: CrystalBatch | None = None
        self._placement: Placement | None = None
        #: Why there is no batch.
        self._reason = ""
        #: What came of the last import of sweeps, and the batch that it made.
        self._told, self._told_of = "", bench.current.crystal_batch

    def _lay_out(self) -> None:
        inside = QWidget()
        inside.setProperty("look", "ground")
        left = QVBoxLayout(inside)
        left.setContentsMargins(0, 0, 6, 0)
        left.addWidget(self.form)
        left.addWidget(self.guidance)
        left.addWidget(self.readings, 1)
        buttons = FlowRow(spacing=6)
        for button in (self.head, self.open, self.bring, self.save):
            buttons.add(button)
        left.addWidget(buttons)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(inside)
        # Readings scroll; fixture and guidance are never cut at the side.
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setMinimumWidth(inside.minimumSizeHint().width() + area.verticalScrollBar().sizeHint().width())
        right = QWidget()
        right.setProperty("look", "ground")
        column = QVBoxLayout(right)
        column.setContentsMargins(0, 0, 2, 0)
        self.table.setMinimumHeight(_TABLE_HEIGHT)
        column.addWidget(self.table, 3)
        column.addWidget(self.summary)
        column.addWidget(self.choices)
        row = FlowRow(spacing=6)
        row.add(self.fit)
        row.add(self.design)
        column.addWidget(row)
        self.histogram.setMinimumHeight(_HISTOGRAM_HEIGHT)
        column.addWidget(self.histogram, 2)
        # A small window scrolls; a table of two rows tells nothing.
        scrolled = QScrollArea()
        scrolled.setWidgetResizable(True)
        scrolled.setWidget(right)
        scrolled.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        whole = self._whole = Folding(
            Card("Readings", area),
            Card("Crystals, and their place in the ladder", scrolled, corner=self.order),
            shares=(2, 3),
        )
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.addWidget(whole)

    def fold(self, narrow: bool) -> None:
        self._whole.fold(narrow, (2, 3))
        self.setMinimumHeight(_STACKED_HEIGHT if narrow else _LEAST_HEIGHT)

    def refresh(self, bench: Workbench) -> None:
        batch = bench.current.crystal_batch
        ladder = bench.analysis.ladder
        on_hand = () if ladder is None else bench.analysis.on_hand(ladder)
        state = (batch, ladder, on_hand, bench.current.if_hz, bench.file, palette.theme())
        if state == self._shown:
            return
        self._shown = state
        self.form.show_only(_FIELDS[batch.method])
        self.form.show_model(batch, ("crystal_batch",))
        self.guidance.setText(guidance(batch.method, crystal_bench.fixture_of(batch)))
        self.bring.setVisible(batch.method == "sweep")
        self.head.setVisible(crystal_bench.with_header(batch.table, batch.method) != batch.table)
        self.readings.setPlaceholderText(crystal_bench.example(batch.method))
        if not self._timer.isActive() and self.readings.toPlainText() != batch.table:
            self.readings.blockSignals(True)
            self.readings.setPlainText(batch.table)
            self.readings.blockSignals(False)
        self._compute(bench, batch)

    def restyle(self) -> None:
        self.histogram.restyle()
        self._shown = ()

    def _compute(self, bench: Workbench, batch: CrystalBatch) -> None:
        former, self._of = self._of, batch
        kept = self._batch if batch is former else ()
        self._batch, self._placement, reason = (), None, ""
        if not batch.table.strip():
            head = crystal_bench.example(batch.method)
            reason = f"Paste a table of readings on the left, or begin with “Insert header”: {head}"
        else:
            try:
                # Turning the IF changes no reading.
                self._batch = kept or crystal_bench.batch_of(batch)
            except CopperError as error:
                reason = str(error)
        self._reason = reason
        if kept or len(self._batch) <= _LARGE_BAG:
            self._place()
        else:
            self.fit.setEnabled(False)
            self.design.setEnabled(False)
            self._next.start()

    def _place(self) -> None:
        """Find the places of the crystals that were read, and show all that follows from them."""
        self._next.stop()
        bench, batch, reason = self._bench, self._of, self._reason
        ladder = bench.analysis.ladder
        if self._batch and ladder is not None:
            on_hand = bench.analysis.on_hand(ladder)
            found = crystals_in_ladder.place(self._batch, ladder, bench.current.if_hz, on_hand)
            if isinstance(found, Unsolved):
                reason = found.reason
            else:
                self._placement = found
        self.fit.setEnabled(self._placement is not None)
        self.design.setEnabled(self._placement is not None)
        self._show_rows()
        self._show_choices()
        texts = (
            self._statistics(),
            crystal_bench.c0_too_small(self._batch),
            self._verdict(),
            reason,
            self._told if self._told and batch == self._told_of else "",
        )
        self.summary.setText(" ".join(text for text in texts if text))
        self._show_histogram()

    def _show_rows(self) -> None:
        meshes = {each.label: each.mesh for each in self._placement.placed} if self._placement else {}
        found = crystal_bench.figures(self._batch)
        far = {} if found is None else dict(found.outliers)
        self.table.show_batch(self._batch, meshes, far, by_mesh=self.order.place == 1)

    def _show_choices(self) -> None:
        found = self._placement.figures if self._placement else ()
        self.choices.setVisible(bool(found))
        rows = [
            (
                each.way,
                f"{each.loss_db:.1f} dB",
                f"{each.worst_db:.1f} dB",
                "beyond the range" if each.width_hz is None else f"{each.width_hz:.0f} Hz",
            )
            for each in found
        ]
        self.choices.show_rows(_CHOICE_HEADS, rows)

    def _statistics(self) -> str:
        found = crystal_bench.figures(self._batch)
        if found is None:
            return ""
        out = {row.label for row in self._batch if row.left_out}
        far = ", ".join(f"{label} ({what})" for label, what in found.outliers if label not in out)
        far = f" Far out: {far}." if far else ""
        left = f", {len(out)} left out" if out else ""
        return (
            f"{found.count} crystals{left}; fs spread over {found.spread_hz:.0f} Hz, deviation "
            f"{found.fs_hz[1]:.0f} Hz; "
            f"Lm {format_value(found.lm_h[0], 'H', 3)} ± {format_value(found.lm_h[1], 'H', 2)}.{far}"
        )

    def _verdict(self) -> str:
        p = self._placement
        if p is None:
            return ""
        return (
            f"So placed the meshes lie {p.rms_hz:.0f} Hz rms apart; the closest ones merely sorted "
            f"{p.sorted_rms_hz:.0f} Hz, at random {p.random_rms_hz:.0f} Hz. {p.doubt}"
        ).strip()

    def _show_histogram(self) -> None:
        found = crystal_bench.histogram(self._batch)
        if found is None:
            self.histogram.say("The histogram appears with the second good crystal.")
            return
        self.histogram.say("")
        edges, counts = found.edges_hz, found.counts
        self.bars.setOpts(
            x=(edges[1:] + edges[:-1]) / 2,
            height=counts,
            width=0.9 * (edges[1] - edges[0]),
            brush=palette.brush("copper"),
            pen=palette.pen("sheet"),
        )
        top = float(counts.max())
        self.histogram.frame((float(edges[0]), float(edges[-1])), (0.0, top * 1.4), "histogram")
        labels = [Label(0.0, top * 1.38, f"median {found.median_hz / 1e6:.6f} MHz", "soft", "below", 2)]
        for count, edge, side in ((found.below, edges[0], "right"), (found.above, edges[-1], "left")):
            if count:
                where = "below" if side == "right" else "above"
                labels.append(Label(float(edge), top * 1.1, f"{count} further {where}", "caution", side, 3))
        self.histogram.labels.show(labels)

    def focus_field(self, path: Place) -> None:
        """Give the focus to the field of a place of the batch; for sweeps to the button that brings them."""
        self.refresh(self._bench)
        field = self.form.field_at(path)
        if path[-1:] == ("table",):
            field = self.bring if self.bring.isVisible() else self.readings
        if field is not None:
            field.setFocus()

    # -- what the builder does -----------------------------------------------------------------------

    def _folder(self) -> Path:
        return self._bench.file.parent if self._bench.file else Path()

    def _typed(self) -> None:
        self._timer.start()

    def _settle(self) -> None:
        """Take at once what was typed a moment ago."""
        if self._timer.isActive():
            self._timer.stop()
            self._take()
        if self._next.isActive():
            self._place()

    def hideEvent(self, event: QHideEvent) -> None:
        self._settle()
        super().hideEvent(event)

    def _take(self) -> None:
        self._read(self.readings.toPlainText(), gesture="readings")

    def _read(self, text: str, folder: Path | None = None, *, gesture: str | None = None) -> None:
        """Readings into the project, and the sweeps that they name out of a folder the builder chose."""
        refused: dict[str, str] = {}
        try:
            batch = crystal_bench.with_readings(self._bench.current.crystal_batch, text)
            if folder is not None:
                batch, refused = crystal_bench.with_sweeps(batch, folder)
        except CopperError as error:
            self.summary.setText(str(error))
            self._bench.refused.emit(str(error))
            return
        self._told, self._told_of = " ".join(refused.values()), batch
        self._bench.edit(("crystal_batch",), batch, gesture=gesture)
        if refused:
            # Said also where nothing could be read and so the design is as it was.
            self._shown = ()
            self.refresh(self._bench)

    def _open(self) -> None:
        self._settle()
        name, _ = QFileDialog.getOpenFileName(
            self, "Readings", str(self._folder()), "CSV (*.csv *.txt);;All files (*)"
        )
        if not name:
            return
        file = Path(name)
        try:
            text = read_text(file, crystal_bench.LARGEST_TABLE_BYTES, "a table of readings")
        except FileError as error:
            self.summary.setText(str(error))
            return
        # Naming the table is naming what it names: its sweeps lie beside it.
        self._read(text, file.parent)

    def _bring(self) -> None:
        folder = QFileDialog.getExistingDirectory(self, "Folder of the sweeps", str(self._folder()))
        if folder:
            self._timer.stop()
            self._read(self.readings.toPlainText(), Path(folder))

    def _save(self) -> None:
        self._settle()
        name, _ = QFileDialog.getSaveFileName(
            self, "Readings as CSV", str(self._folder() / "crystals.csv"), "CSV (*.csv)"
        )
        if name:
            try:
                write_whole(Path(name), self._bench.current.crystal_batch.table.encode())
            except FileError as error:
                self.summary.setText(str(error))

    def _insert_header(self) -> None:
        method = self._bench.current.crystal_batch.method
        self.readings.setPlainText(crystal_bench.with_header(self.readings.toPlainText(), method))
        self._settle()
        self.readings.setFocus()
        self.readings.moveCursor(QTextCursor.MoveOperation.End)

    def _ticked(self, label: str, on: bool) -> None:
        """Let the crystal of a row be chosen, or leave it out."""
        self._settle()
        out = [each for each in self._bench.current.crystal_batch.left_out if each != label]
        refused = self._bench.change(
            lambda project: project.edited(("crystal_batch", "left_out"), out if on else [*out, label]),
            label=f"{'taking' if on else 'leaving out'} crystal {label}",
        )
        if refused is not None:
            self._show_rows()

    def _design(self) -> None:
        self._settle()
        analysis, batch = self._bench.analysis, self._batch
        ladder = analysis.ladder
        if ladder is None or not batch:
            return
        on_hand = analysis.on_hand(ladder)

        def made(project: Project) -> Project:
            found = crystals_in_ladder.designed_for(project, ladder.id, batch, on_hand)
            if isinstance(found, Unsolved):
                raise DesignError(found.reason)
            return found

        refused = self._bench.change(made, label="designing the ladder for the crystals")
        if refused is not None:
            self.summary.setText(refused)

    def _fit(self) -> None:
        self._settle()
        ladder, placement, batch = self._bench.analysis.ladder, self._placement, self._batch
        if ladder is not None and placement is not None:
            self._bench.change(
                lambda project: crystals_in_ladder.fit_in(project, ladder.id, batch, placement),
                label="placing crystals",
            )
