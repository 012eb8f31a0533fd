"""Build sheet: the pages as they will be printed, and what can be done with them."""

from collections.abc import Iterator
from pathlib import Path

from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtGui import QColor, QHideEvent, QImage, QPainter, QPixmap
from PySide6.QtWidgets import (
    QFileDialog,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.sheet.choice import choose_sections, wanted
from app.sheet.pages import WHOLE, Wanted, begun_document, write_pdf
from app.sheet.printing import let_live, preview, print_sheet
from app.state.mishaps import LOG, sentence_of
from app.state.settings import PAPERS, Paper, Settings
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.choice_box import ChoiceBox
from app.widgets.drawn import Drawn
from app.widgets.flow_row import FlowRow
from app.widgets.view import View
from core.model.disk import write_whole
from core.model.project import Project
from core.model.values.errors import CopperError
from core.record import record
from core.rig.analysis import Analysis
from core.rig.bench.crystal_bench import fit_sweeps
from core.rig.paper.build_sheet import sheet_in_steps
from core.rig.paper.needed import needed_csv, needed_of

#: Pages are drawn again when the design has been still for so long, milliseconds: paper is no meter.
_PAUSE_MS = 250
#: A page narrower than this cannot be read, pixels.
_LEAST_WIDTH = 360


@record
class Ordered:
    """What the pages are drawn from: the design, the paper, and their width in pixels."""

    project: Project
    paper: Paper
    of: Wanted
    width: int


class SheetPage(Drawn[Ordered], View):
    """Pictures of the pages below a row of buttons.

    The sheet is made in short steps between which the window stays alive; an edit amid them begins anew.
    """

    def __init__(self, bench: Workbench, settings: Settings) -> None:
        super().__init__()
        self._bench, self._settings = bench, settings
        self.paper = ChoiceBox(least=6)
        self.paper.addItems(list(PAPERS))
        self.paper.setCurrentText(settings.paper)
        self.paper.setAccessibleName("Paper")
        self.paper.activated.connect(self._choose_paper)
        self.printing = QPushButton("Print…")
        self.printing.clicked.connect(
            lambda: print_sheet(self._bench.current, self._paper, self, self._wanted)
        )
        self.look = QPushButton("Print preview…")
        self.look.clicked.connect(lambda: preview(self._bench.current, self._paper, self, self._wanted))
        self.choice = QPushButton("Sections…")
        self.choice.setToolTip("Which sections are printed; remembered for the next sheet")
        self.choice.clicked.connect(self._choose_sections)
        self.pdf = QPushButton("Save as PDF…")
        self.pdf.clicked.connect(self._save_pdf)
        self.parts = QPushButton("Parts as CSV…")
        self.parts.setToolTip(
            "All parts of the rig, like ones together, with what is on hand and what to get"
        )
        self.parts.clicked.connect(self._save_parts)
        self.message = Text()
        self.message.setProperty("look", "soft")
        self.message.setToolTip("How many pages the build sheet takes on this paper")
        bar = FlowRow(spacing=6)
        for widget in (
            Text("Paper"),
            self.paper,
            self.choice,
            self.printing,
            self.look,
            self.pdf,
            self.parts,
            self.message,
        ):
            bar.add(widget)
        self._column = QVBoxLayout()
        self._column.setSpacing(14)
        self._column.addStretch(1)
        inside = QWidget()
        inside.setProperty("look", "ground")
        inside.setLayout(self._column)
        self.view = QScrollArea()
        self.view.setWidgetResizable(True)
        self.view.setWidget(inside)
        # Pages that come and go do not change the width they are drawn for.
        self.view.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOn)
        self.view.setAccessibleName("Pages of the build sheet")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(bar)
        column.addWidget(self.view, 1)
        self._pictures: list[QLabel] = []
        self._work: Iterator[None] | None = None
        self._timer = QTimer(self, singleShot=True, interval=_PAUSE_MS)
        self._timer.timeout.connect(self._draw)
        self._turns = QTimer(self, interval=0)
        self._turns.timeout.connect(self._step)

    @property
    def _paper(self) -> Paper:
        return self._settings.paper

    @property
    def _wanted(self) -> Wanted:
        return wanted(self._settings, self._bench.file)

    @property
    def pages(self) -> int:
        """Number of pages on show."""
        return sum(1 for picture in self._pictures if picture.isVisibleTo(self))

    @property
    def busy(self) -> bool:
        """Whether pages are still to be drawn."""
        return self._work is not None or self._timer.isActive()

    def _choose_paper(self) -> None:
        self._settings.paper = PAPERS[self.paper.currentIndex()]
        self._draw()

    def _choose_sections(self) -> None:
        if choose_sections(self._settings, self):
            self._draw()

    def refresh(self, bench: Workbench) -> None:
        self.paper.setCurrentText(self._settings.paper)
        if self.shown_picture is None:
            self._draw()
        elif self.shown_picture != self._ordered:
            self._timer.start()

    @property
    def _ordered(self) -> Ordered:
        width = max(_LEAST_WIDTH, min(self.view.viewport().width() - 40, 900))
        return Ordered(self._bench.current, self._paper, self._wanted, width)

    def _draw(self) -> None:
        # The next look at a page that cannot be seen asks again.
        if self.isVisible():
            self.show_picture(self._ordered)

    def draw(self, picture: Ordered) -> None:
        self._work = self._pages(self._bench.analysis, picture)
        self._turns.start()
        self.message.setText("Drawing the pages…")

    def _step(self) -> None:
        """One step of the work in a turn of the event loop."""
        try:
            if self._work is not None:
                next(self._work)
        except StopIteration:
            self._work = None
        except Exception as error:
            self._work = None
            self.forget()
            LOG.exception("The sheet was not drawn")
            self.message.setText(sentence_of(error, "Drawing the pages broke off"))
        if self._work is None:
            self._turns.stop()

    def _pages(self, analysis: Analysis, ordered: Ordered) -> Iterator[None]:
        ratio = self.devicePixelRatioF()
        for _ in fit_sweeps(analysis.project.crystal_batch):
            yield
        made = yield from sheet_in_steps(analysis)
        yield
        sheet = begun_document(made, ordered.paper, 72.0, of=ordered.of)
        yield from sheet.steps()
        size = sheet.page_points
        scale = ordered.width / size.width() * ratio
        for number in range(sheet.pages):
            image = QImage(
                QSize(round(size.width() * scale), round(size.height() * scale)), QImage.Format.Format_RGB32
            )
            image.fill(QColor("white"))
            painter = QPainter(image)
            painter.setRenderHints(QPainter.RenderHint.Antialiasing | QPainter.RenderHint.TextAntialiasing)
            painter.scale(scale, scale)
            sheet.draw_page(painter, number)
            painter.end()
            pixmap = QPixmap.fromImage(image)
            pixmap.setDevicePixelRatio(ratio)
            self._picture(number).setPixmap(pixmap)
            yield
        for number, picture in enumerate(self._pictures):
            picture.setVisible(number < sheet.pages)
        self.message.setText(f"{sheet.pages} pages")

    def hideEvent(self, event: QHideEvent) -> None:
        # What is half drawn is drawn when the page is looked at again.
        if self._work is not None:
            self._work = None
            self.forget()
            self._turns.stop()
        super().hideEvent(event)

    def _picture(self, number: int) -> QLabel:
        while len(self._pictures) <= number:
            label = Text()
            label.setAlignment(Qt.AlignmentFlag.AlignHCenter)
            label.setAccessibleName(f"Page {len(self._pictures) + 1}")
            self._column.insertWidget(len(self._pictures), label)
            self._pictures.append(label)
        return self._pictures[number]

    def _save_pdf(self) -> None:
        target = self._asked("Build sheet as PDF", "build-sheet", ".pdf")
        if target is not None:
            self.message.setText(saved_as_pdf(self._bench.current, target, self._paper, self._wanted))

    def _save_parts(self) -> None:
        target = self._asked("Parts of the rig as CSV", "parts", ".csv")
        if target is not None:
            self.message.setText(saved_as_csv(self._bench.analysis, target))

    def _asked(self, title: str, usual: str, suffix: str) -> Path | None:
        """Where a file goes; None when the builder gave up."""
        file = self._bench.file
        proposed = (file.with_suffix(suffix) if file else Path(usual + suffix)).name
        start = str(self._bench.folder / proposed)
        name, _ = QFileDialog.getSaveFileName(self, title, start, f"{suffix[1:].upper()} (*{suffix})")
        if not name:
            return None
        return Path(name) if Path(name).suffix else Path(name).with_suffix(suffix)


def saved_as_csv(analysis: Analysis, file: Path) -> str:
    """Write what the rig needs; what happened, in a sentence."""
    lines = needed_of(analysis)
    try:
        write_whole(file, needed_csv(lines).encode())
    except CopperError as error:
        return str(error)
    return f"{sum(line.quantity for line in lines)} parts written to {file}"


def saved_as_pdf(project: Project, file: Path, paper: Paper, of: Wanted = WHOLE) -> str:
    """Write the PDF; what happened, in a sentence."""
    try:
        pages = write_pdf(project, file, paper, let_live, of)
    except CopperError as error:
        return str(error)
    return f"{pages} pages written to {file}"
