"""IF survey: every crystal in stock for the bands of this rig, ranked; one click moves the rig there."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout

from app.pages.survey_table import SurveyTable
from app.pictures.bench.survey import Asked, asked_of, details_of, survey_of
from app.plots.base import Card
from app.state.tasks import Failed, Tasks
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.drawn import Drawn
from app.widgets.view import View
from core.rig.start.new_rig import with_frequencies
from core.rig.survey.if_survey import SurveyRow

#: The page scrolls before its table gets lower than can be read; a narrow one has longer texts, pixels.
_LEAST_HEIGHT, _NARROW_HEIGHT = 400, 620


class IfSurveyPage(Drawn[Asked], View):
    """The table, the crossings of the selected row, and the button that applies it."""

    def __init__(self, bench: Workbench, tasks: Tasks) -> None:
        super().__init__()
        self._bench, self._tasks = bench, tasks
        self.table = SurveyTable()
        self.apply = QPushButton("Move the rig to this IF")
        self.apply.setToolTip(
            "Sets IF and mixing schemes, and typical crystals of that frequency; one undo takes it back"
        )
        self.apply.clicked.connect(self._apply)
        self.details = Text()
        self.details.setWordWrap(True)
        self.details.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.details.setMinimumHeight(44)
        row = QHBoxLayout()
        row.addWidget(self.details, 1)
        row.addWidget(self.apply, 0, Qt.AlignmentFlag.AlignTop)
        self._card = Card("IF survey", self.table)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._card, 1)
        column.addLayout(row)
        self.table.picked.connect(self._show_details)
        self.table.opened.connect(self._apply)
        self._show_details()

    def fold(self, narrow: bool) -> None:
        self.setMinimumHeight(_NARROW_HEIGHT if narrow else _LEAST_HEIGHT)

    def refresh(self, bench: Workbench) -> None:
        self.show_picture(asked_of(bench.analysis))

    def draw(self, picture: Asked) -> None:
        self._card.entitle(picture.title)
        self.table.show_computing()
        self._tasks.start(
            "survey", lambda job: survey_of(picture.bands, picture.junk_box, picture.ladder), self._done
        )

    def _done(self, rows: "tuple[SurveyRow, ...] | Failed") -> None:
        if isinstance(rows, Failed):
            self.table.count.setText("")
            self.details.setText(rows.reason)
            return
        self.table.show_rows(rows)
        self.table.pick(self._bench.current.if_hz, tuple(b.scheme for b in self._bench.current.bands))

    def _show_details(self) -> None:
        row = self.table.row
        self.apply.setEnabled(row is not None)
        self.details.setText(details_of(row))

    def _apply(self) -> None:
        row = self.table.row
        if row is not None:
            self._bench.change(
                lambda project: with_frequencies(project, row.if_hz, row.schemes), label=f"IF {row.crystal}"
            )
