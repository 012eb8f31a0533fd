"""IF survey: every crystal in stock for the bands of this rig, ranked; one click moves the rig there."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout

from app.pages.survey_table import SurveyTable, survey_of
from app.plots.base import Card
from app.state.tasks import Failed, Job, Tasks
from app.state.workbench import Workbench
from app.style import words
from app.style.plain import Text
from app.widgets.view import View
from core.model.bands import Band
from core.model.stages.filters import LadderFilter
from core.rig.start.new_rig import with_frequencies
from core.rig.survey.if_survey import SurveyRow

#: The page scrolls before its table gets lower than can be read; a narrow one has longer texts, pixels.
_LEAST_HEIGHT, _NARROW_HEIGHT = 400, 620


class IfSurveyPage(View):
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
        self._asked: object = None
        self._show_details()

    def fold(self, narrow: bool) -> None:
        self.setMinimumHeight(_NARROW_HEIGHT if narrow else _LEAST_HEIGHT)

    def refresh(self, bench: Workbench) -> None:
        bands = tuple((b.name, b.low_hz, b.high_hz, b.sideband) for b in bench.current.bands)
        ladder = bench.analysis.ladder
        asked = (bands, bench.current.junk_box, None if ladder is None else _wanted(ladder))
        if asked == self._asked:
            return
        self._asked = asked
        names = " and ".join(words.band(b.name) for b in bench.current.bands)
        self._card.entitle(f"IF survey for {names}: which crystal lets one VFO cover them with few spurs")
        project = bench.current
        self.table.show_computing()
        self._tasks.start(
            "survey",
            lambda job: _surveyed(job, project.bands, project.junk_box.crystals_hz, ladder),
            self._done,
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
        if row is None:
            self.details.setText("Select a row to see why it stands where it does.")
            return
        crossings = "; ".join(
            f"{c.products} on {words.band(c.band)} at {c.dial_hz / 1e6:.3f} MHz (order {c.order})"
            for c in row.crossings[:6]
        )
        more = f" and {len(row.crossings) - 6} more" if len(row.crossings) > 6 else ""
        total = "cannot be built" if row.impossible else f"costs {row.cost:.1f}"
        self.details.setText(
            f"{row.crystal} {total}: {'; '.join(row.reasons)}."
            + (f"\nProducts that meet the signal: {crossings}{more}." if crossings else "")
        )

    def _apply(self) -> None:
        row = self.table.row
        if row is not None:
            self._bench.change(
                lambda project: with_frequencies(project, row.if_hz, row.schemes), label=f"IF {row.crystal}"
            )


def _wanted(ladder: LadderFilter) -> tuple[object, ...]:
    """What the survey looks at in a ladder."""
    return ladder.shape, ladder.poles, ladder.ripple_db, ladder.bandwidth_hz


def _surveyed(
    job: Job, bands: tuple[Band, ...], junk_box: tuple[float, ...], ladder: LadderFilter | None
) -> tuple[SurveyRow, ...]:
    return survey_of(bands, junk_box, ladder)
