"""Crystals: readings of a bag of crystals, what they are, and which one goes where in the ladder."""

from functools import lru_cache
from pathlib import Path

import pyqtgraph as pg
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QHideEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from app import palette
from app.figure_table import FigureTable
from app.forms import Form
from app.plain import Text
from app.plots.base import Card, Label, Plot
from app.view import View
from app.workbench import Workbench
from core.model.base import Path as Place
from core.model.bench import CrystalBatch
from core.model.disk import read_text, write_whole
from core.model.errors import CopperError, FileError
from core.model.notation import format_value
from core.rig import crystal_bench, crystals_in_ladder
from core.rig.crystal_bench import BatchRow
from core.rig.crystal_guidance import guidance
from core.stages.crystal_choice import Placement
from core.stages.outcome import Unsolved

#: A pause in typing after which the readings are taken, milliseconds.
_PAUSE_MS = 400
_HEADS = ("crystal", "fs", "Lm", "Rm", "C0", "Q", "mesh", "remark")

#: Figures with a confidence interval: name in the fit, name on screen, unit.
_CONFIDENT = (
    ("fs_hz", "fs", "Hz"),
    ("lm_h", "Lm", "H"),
    ("cm_f", "Cm", "F"),
    ("rm_ohm", "Rm", "Ω"),
    ("c0_f", "C0", "F"),
    ("q", "Q", ""),
)


def _confidence(row: BatchRow) -> str:
    """The 95 % confidence intervals of a fitted crystal, a line each; empty for other methods."""
    p = row.parameters
    if p is None or not p.spread:
        return row.refused
    known = dict(p.spread)
    lines = ["95 % confidence from the fit:"]
    for name, title, unit in _CONFIDENT:
        value = getattr(p, name)
        if name in known and value is not None:
            digits = 9 if name == "fs_hz" else 4
            spread = format_value(known[name], unit, 2)
            lines.append(f"{title} {format_value(value, unit, digits)} ± {spread}")
    return "\n".join(lines)


@lru_cache(maxsize=2 * crystal_bench.MOST_CRYSTALS)
def _texts(row: BatchRow) -> tuple[tuple[str, ...], str]:
    """A crystal's figures up to its mesh, and the remark; kept, because a large bag has thousands."""
    p = row.parameters
    if p is None:
        return (row.label, "", "", "", "", ""), row.refused
    known = dict(p.spread)
    lm = format_value(p.lm_h, "H", 4)
    return (
        row.label,
        f"{p.fs_hz / 1e6:.6f} MHz",
        f"{lm} ± {format_value(known['lm_h'], 'H', 1)}" if "lm_h" in known else lm,
        "" if p.rm_ohm is None else format_value(p.rm_ohm, "Ω", 3),
        format_value(p.c0_f, "F", 3),
        "" if p.q is None else f"{p.q:,.0f}".replace(",", "\u202f"),
    ), p.doubt


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
        self.table = FigureTable(even=False)
        self.summary = Text()
        self.summary.setWordWrap(True)
        self.histogram = Plot("fs less the median", "Hz", "crystals", "")
        self.bars = pg.BarGraphItem(x=[], height=[], width=1.0)
        self.histogram.addItem(self.bars)
        self._lay_out()
        self._timer = QTimer(self, singleShot=True, interval=_PAUSE_MS)
        self._timer.timeout.connect(self._take)
        bench.settling.connect(self._settle)
        self._shown: tuple[object, ...] = ()
        self._batch: tuple[BatchRow, ...] = ()
        self._of: CrystalBatch | None = None
        self._placement: Placement | None = None
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
        buttons = QHBoxLayout()
        buttons.addWidget(self.open)
        buttons.addWidget(self.bring)
        buttons.addWidget(self.save)
        buttons.addStretch(1)
        left.addLayout(buttons)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(inside)
        # Readings scroll; fixture and guidance are never cut at the side.
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setMinimumWidth(inside.minimumSizeHint().width() + area.verticalScrollBar().sizeHint().width())
        right = QWidget()
        column = QVBoxLayout(right)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.table, 3)
        column.addWidget(self.summary)
        row = QHBoxLayout()
        row.addWidget(self.fit)
        row.addStretch(1)
        column.addLayout(row)
        column.addWidget(self.histogram, 2)
        whole = QSplitter(Qt.Orientation.Horizontal)
        whole.setChildrenCollapsible(False)
        whole.addWidget(Card("Readings", area))
        whole.addWidget(Card("Crystals, and their place in the ladder", right))
        whole.setStretchFactor(0, 2)
        whole.setStretchFactor(1, 3)
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.addWidget(whole)

    def refresh(self, bench: Workbench) -> None:
        batch = bench.current.crystal_batch
        ladder = bench.analysis.ladder
        on_hand = () if ladder is None else bench.analysis.on_hand(ladder)
        state = (batch, ladder, on_hand, bench.current.if_hz, bench.file, palette.theme())
        if state == self._shown:
            return
        self._shown = state
        self.form.show_model(batch, ("crystal_batch",))
        self.guidance.setText(guidance(batch.method, crystal_bench.fixture_of(batch)))
        self.bring.setVisible(batch.method == "sweep")
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
            reason = f"Paste a table of readings on the left. It begins with: {head}"
        else:
            try:
                # Turning the IF changes no reading.
                self._batch = kept or crystal_bench.batch_of(batch)
            except CopperError as error:
                reason = str(error)
        ladder = bench.analysis.ladder
        if self._batch and ladder is not None:
            on_hand = bench.analysis.on_hand(ladder)
            found = crystals_in_ladder.place(self._batch, ladder, bench.current.if_hz, on_hand)
            if isinstance(found, Unsolved):
                reason = found.reason
            else:
                self._placement = found
        self.fit.setEnabled(self._placement is not None)
        self._show_rows()
        texts = (
            self._statistics(),
            self._verdict(),
            reason,
            self._told if self._told and batch == self._told_of else "",
        )
        self.summary.setText(" ".join(text for text in texts if text))
        self._show_histogram()

    def _show_rows(self) -> None:
        meshes = {each.label: each.mesh for each in self._placement.placed} if self._placement else {}
        rows = []
        for row in self._batch:
            texts, remark = _texts(row)
            rows.append((*texts, str(meshes.get(row.label, "")), remark))
        self.table.show_rows(_HEADS, rows, [_confidence(row) for row in self._batch])

    def _statistics(self) -> str:
        found = crystal_bench.figures(self._batch)
        if found is None:
            return ""
        far = "; ".join(f"{label} ({what})" for label, what in found.outliers)
        far = f" Far out: {far}." if far else ""
        return (
            f"{found.count} good crystals; fs spread over {found.spread_hz:.0f} Hz, deviation "
            f"{found.fs_hz[1]:.0f} Hz; "
            f"Lm {format_value(found.lm_h[0], 'H', 3)} ± {format_value(found.lm_h[1], 'H', 2)}.{far}"
        )

    def _verdict(self) -> str:
        p = self._placement
        if p is None:
            return ""
        return (
            f"Placed by the mesh equations the meshes lie {p.rms_hz:.0f} Hz rms apart; the closest "
            f"ones merely sorted {p.sorted_rms_hz:.0f} Hz, at random {p.random_rms_hz:.0f} Hz. {p.doubt}"
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

    def _fit(self) -> None:
        self._settle()
        ladder, placement, batch = self._bench.analysis.ladder, self._placement, self._batch
        if ladder is not None and placement is not None:
            self._bench.change(
                lambda project: crystals_in_ladder.fit_in(project, ladder.id, batch, placement),
                label="placing crystals",
            )
