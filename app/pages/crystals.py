"""Crystals: readings of a bag of crystals, what they are, and which one goes where in the ladder."""

import sys
from pathlib import Path

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QHideEvent, QTextCursor
from PySide6.QtWidgets import QFileDialog, QPlainTextEdit, QPushButton, QScrollArea, QVBoxLayout, QWidget

from app.pages.beside import BesidePage, scrolled
from app.pages.crystal_table import CrystalTable
from app.panels.forms import Form
from app.pictures.bench.crystals import CrystalsPicture, Outcome, picture_of, waiting
from app.plots.base import Card
from app.plots.histogram import HistogramPlot
from app.state.libraries import PLACING, load_next
from app.state.tasks import Job, Tasks
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.drawn import Drawn
from app.widgets.figure_table import FigureTable
from app.widgets.flow_row import FlowRow
from app.widgets.two_way import TwoWay
from app.widgets.view import FieldsView
from core.model.bench import CrystalBatch, CrystalMethod
from core.model.disk import read_text, write_whole
from core.model.project import Project
from core.model.readings import CrystalReading
from core.model.values.base import Path as Place
from core.model.values.errors import CopperError, DesignError, FileError
from core.rig.bag import bag_of, placement_of, unfitted
from core.rig.bench import crystal_bench, crystals_in_ladder
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
#: A table of fewer rows and a lower histogram would tell nothing, pixels.
_TABLE_HEIGHT, _HISTOGRAM_HEIGHT = 230, 150


class CrystalsPage(Drawn[CrystalsPicture], BesidePage, FieldsView):
    """Fixture and readings on the left; parameters, histogram and placement on the right."""

    def __init__(self, bench: Workbench, tasks: Tasks | None = None) -> None:
        super().__init__()
        self._bench = bench
        self._tasks = tasks or Tasks(self)
        #: Digest of the batch whose sweeps are being fitted, and of that for which this was done.
        self._fitting = self._fitted = ""
        self.form = Form(CrystalBatch, bench)
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
        self.order.chosen.connect(lambda _: self.refresh(bench))
        self.choices = FigureTable(even=False, fitted=True)
        self.choices.setAccessibleName("Responses that choices give")
        self.choices.setToolTip(
            "Least loss, worst loss over the inner nine tenths of the pass-band, and −3 dB width of the "
            "ladder with the crystals chosen, with those chosen by frequency alone, and with the closest "
            "ones, sorted"
        )
        self.summary = Text()
        self.summary.setWordWrap(True)
        self.histogram = HistogramPlot()
        buttons = FlowRow(spacing=6)
        for button in (self.head, self.open, self.bring, self.save):
            buttons.add(button)
        self.lay_out(
            "Readings",
            (self.form, self.guidance, self.readings, buttons),
            Card("Crystals, and their place in the ladder", self._results(), corner=self.order),
            growing=self.readings,
        )
        self._timer = QTimer(self, singleShot=True, interval=_PAUSE_MS)
        self._timer.timeout.connect(self._take)
        self._next = QTimer(self, singleShot=True, interval=0)
        self._next.timeout.connect(self._proceed)
        bench.settling.connect(self._settle)
        self._told = Outcome("", bench.current.crystal_batch)
        #: What the text on show was read as: it stays as typed while the design holds just that.
        self._read_as: tuple[tuple[CrystalReading, ...], str] = (), ""

    def _results(self) -> QScrollArea:
        right = QWidget()
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
        area = scrolled(right)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        return area

    @property
    def busy(self) -> bool:
        """Whether more is to be shown soon."""
        return self._next.isActive() or bool(self._fitting)

    def refresh(self, bench: Workbench) -> None:
        self.form.show_model(bench.current.crystal_batch, ("crystal_batch",))
        batch, former = bench.current.crystal_batch, self._drawn
        sweeps = unfitted(batch)
        if sweeps and batch.digest != self._fitted:
            self._next.stop()
            self.show_picture(waiting(bench.analysis, f"Fitting {sweeps} sweeps…"))
            self._fit_sweeps(batch)
        elif not all(each in sys.modules for each in PLACING):
            self.show_picture(waiting(bench.analysis, "Reading the crystals…"))
            self._next.start()
        elif (former is None or former.batch is not batch) and len(bag_of(bench.analysis).rows) > _LARGE_BAG:
            self.fit.setEnabled(False)
            self.design.setEnabled(False)
            self.forget()
            self._next.start()
        else:
            self._show(bench)

    def _fit_sweeps(self, batch: CrystalBatch) -> None:
        if self._fitting == batch.digest:
            return

        def work(job: Job) -> None:
            for share in crystal_bench.fit_sweeps(batch):
                job.progress(share)
                if job.cancelled:
                    return

        def done(_: object) -> None:
            # What failed is met again, and told, when the crystals are shown.
            self._fitted, self._fitting = self._fitting, ""
            self.refresh(self._bench)

        self._fitting = batch.digest
        self._tasks.start("crystals", work, done)

    def _proceed(self) -> None:
        """Import a library for placing them, or show the crystals when all are there."""
        if load_next(PLACING):
            self._next.start()
        else:
            self._show(self._bench)

    def _show(self, bench: Workbench) -> None:
        self._next.stop()
        self.show_picture(picture_of(bench.analysis, self._told, by_mesh=self.order.place == 1))

    def draw(self, picture: CrystalsPicture) -> None:
        self.form.show_only(_FIELDS[picture.batch.method])
        self.guidance.setText(picture.guidance)
        self.bring.setVisible(picture.batch.method == "sweep")
        self.head.setVisible(picture.headless)
        self.readings.setPlaceholderText(picture.example)
        if not self._timer.isActive() and self._read_as != (picture.batch.readings, picture.batch.draft):
            self._show_text(crystal_bench.table_text(picture.batch), picture.batch)
        self.fit.setEnabled(picture.placed)
        self.design.setEnabled(picture.placed)
        self.table.show_picture(picture.lines)
        self.choices.setVisible(bool(picture.choices.rows))
        self.choices.show_told(picture.choices)
        self.summary.setText(picture.summary)
        self.histogram.show_picture(picture.histogram)

    def _show_text(self, text: str, batch: CrystalBatch) -> None:
        """Show the text that is read as the readings of a batch; what is typed already stays untouched."""
        self._read_as = batch.readings, batch.draft
        if text != self.readings.toPlainText():
            self.readings.blockSignals(True)
            self.readings.setPlainText(text)
            self.readings.blockSignals(False)

    def restyle(self) -> None:
        self.histogram.restyle()
        for part in (self.histogram, self.table, self):
            part.forget()

    def focus_field(self, path: Place) -> None:
        """Give the focus to the field of a place of the batch; for sweeps to the button that brings them."""
        self.refresh(self._bench)
        field = self.form.field_at(path)
        if path[-1:] == ("readings",):
            field = self.bring if self.bring.isVisible() else self.readings
        if field is not None:
            field.setFocus()

    # -- what the builder does -----------------------------------------------------------------------

    def _typed(self) -> None:
        self._timer.start()

    def _settle(self) -> None:
        """Take at once what was typed a moment ago."""
        if self._timer.isActive():
            self._timer.stop()
            self._take()

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
            self._refuse(str(error))
            self._bench.refused.emit(str(error))
            return
        self._told = Outcome(" ".join(refused.values()), batch)
        self._show_text(text, batch)
        self._bench.edit(("crystal_batch",), batch, gesture=gesture)
        if refused:
            # Said also where nothing could be read and so the design is as it was.
            self.refresh(self._bench)

    def _refuse(self, reason: str) -> None:
        """Tell why nothing was done, for as long as the design stays as it is."""
        self._told = Outcome(reason, self._bench.current)
        self.refresh(self._bench)

    def _open(self) -> None:
        self._settle()
        name, _ = QFileDialog.getOpenFileName(
            self, "Readings", str(self._bench.folder), "CSV (*.csv *.txt);;All files (*)"
        )
        if not name:
            return
        file = Path(name)
        try:
            text = read_text(file, crystal_bench.LARGEST_TABLE_BYTES, "a table of readings")
        except FileError as error:
            self._refuse(str(error))
            return
        # Naming the table is naming what it names: its sweeps lie beside it.
        self._read(text, file.parent)

    def _bring(self) -> None:
        folder = QFileDialog.getExistingDirectory(self, "Folder of the sweeps", str(self._bench.folder))
        if folder:
            self._timer.stop()
            self._read(self.readings.toPlainText(), Path(folder))

    def _save(self) -> None:
        self._settle()
        name, _ = QFileDialog.getSaveFileName(
            self, "Readings as CSV", str(self._bench.folder / "crystals.csv"), "CSV (*.csv)"
        )
        if name:
            try:
                write_whole(Path(name), self.readings.toPlainText().encode())
            except FileError as error:
                self._refuse(str(error))

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
        # The table shows what was ticked.
        self.forget()
        if refused is not None:
            self.refresh(self._bench)

    def _design(self) -> None:
        self._settle()
        analysis = self._bench.analysis
        ladder, batch = analysis.ladder, bag_of(analysis).rows
        if ladder is None or not batch:
            return

        def made(project: Project) -> Project:
            found = crystals_in_ladder.designed_for(project, ladder.id, batch)
            if isinstance(found, Unsolved):
                raise DesignError(found.reason)
            return found

        refused = self._bench.change(made, label="designing the ladder for the crystals")
        if refused is not None:
            self._refuse(refused)

    def _fit(self) -> None:
        self._settle()
        analysis = self._bench.analysis
        ladder, placement, batch = analysis.ladder, placement_of(analysis), bag_of(analysis).rows
        if ladder is not None and isinstance(placement, Placement):
            self._bench.change(
                lambda project: crystals_in_ladder.fit_in(project, ladder.id, batch, placement),
                label="placing crystals",
            )
