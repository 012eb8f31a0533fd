"""Read-out: how a simple counter shows the dial on every band, and which schemes were turned down."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.panels.forms import Form
from app.plots.base import Card
from app.state.workbench import Workbench
from app.style import palette, words
from app.style.plain import Text
from app.widgets.figure_table import FigureTable
from app.widgets.folding import Folding
from app.widgets.number_field import NumberField
from app.widgets.view import FieldsView
from core.model.project import Project
from core.model.values.base import Path
from core.model.values.notation import format_frequency, format_value
from core.rig.read_out.plan import BandReadOut, Options, ReadOutPlan
from core.rig.read_out.schemes import Reading
from core.stages.outcome import Unsolved

#: The page scrolls before its tables get too small to read, side by side with the fields and below them.
_LEAST_HEIGHT, _STACKED_HEIGHT = 820, 1150
_OTHER_HEADS = ("scheme", "stored", "filter", "birdies")
_NO_COUNTER = "The rig has no counter; tick “Read-out” on the left to plan one."


class ReadOutPage(FieldsView):
    """The counter on the left; on the right the plan, other schemes, and those turned down."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self._bench = bench
        others = frozenset(Project.model_fields) - {"read_out"}
        self.form = Form(Project, bench, without=others)
        self.plan = FigureTable(fitted=True)
        self.switching = Text()
        self.others = FigureTable()
        self.others.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.others.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.others.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.others.setAccessibleName("Other schemes")
        self.others.itemSelectionChanged.connect(self._selected)
        self.take = QPushButton("Take this helper crystal")
        self.take.setToolTip(
            "Writes the selected scheme's helper crystal into the design; one undo takes it back"
        )
        self.take.setEnabled(False)
        self.take.clicked.connect(self._take)
        self.free = QPushButton("Choose the best")
        self.free.setToolTip("Leaves the choice of the helper crystal to the plan again")
        self.free.clicked.connect(lambda: self._settle(None))
        self.refused = FigureTable()
        self.switching.setWordWrap(True)
        self._plan_card = Card("What each band shows", _column(self.plan, self.switching))
        buttons = QWidget()
        row = QHBoxLayout(buttons)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.take)
        row.addWidget(self.free)
        row.addStretch(1)
        self._others_card = Card("Other schemes", _column(self.others, buttons))
        self._refused_card = Card("Turned down, and why", self.refused)
        self._lay_out()
        self._alternatives: tuple[Reading, ...] = ()
        self._shown: tuple[object, ...] = ()

    def _lay_out(self) -> None:
        inside = QWidget()
        inside.setProperty("look", "ground")
        left = QVBoxLayout(inside)
        left.setContentsMargins(0, 0, 6, 0)
        left.addWidget(self.form)
        left.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(inside)
        # No narrower than its fields, as they would be cut at the side.
        area.setMinimumWidth(inside.minimumSizeHint().width() + area.verticalScrollBar().sizeHint().width())
        right = _column(self._plan_card, self._others_card, self._refused_card, stretch=(6, 4, 5), gap=8)
        whole = self._whole = Folding(Card("Counter and helper", area), right, shares=(2, 4))
        self.setMinimumHeight(_LEAST_HEIGHT)
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.addWidget(whole)

    def fold(self, narrow: bool) -> None:
        self._whole.fold(narrow, (2, 3))
        self.setMinimumHeight(_STACKED_HEIGHT if narrow else _LEAST_HEIGHT)

    def refresh(self, bench: Workbench) -> None:
        self.form.show_model(bench.current, ())
        plan = bench.analysis.read_out
        state = (plan, bench.band_name, palette.theme())
        if len(state) == len(self._shown) and all(a is b for a, b in zip(state, self._shown, strict=True)):
            return
        self._shown = state
        self._others_card.setVisible(plan is not None)
        self._refused_card.setVisible(plan is not None)
        if plan is None:
            self._alternatives = ()
            self.plan.show_rows(("",), ())
            self.switching.setText(_NO_COUNTER)
            return
        self._show_plan(plan)
        option = next((o for o in bench.analysis.read_out_options if o.band == bench.band_name), None)
        if option is not None:
            self._show_options(option)
        read_out = bench.current.read_out
        self.free.setEnabled(
            read_out is not None and (read_out.helper_measured_hz or read_out.helper_hz) is not None
        )

    def restyle(self) -> None:
        self._shown = ()

    def focus_field(self, path: Path) -> None:
        self.refresh(self._bench)
        field = self.form.field_at(path)
        if field is not None:
            field.setFocus()
            if isinstance(field, NumberField):
                field.selectAll()

    def _show_plan(self, plan: ReadOutPlan) -> None:
        helper = "" if plan.helper_hz is None else f", helper crystal {format_frequency(plan.helper_hz, 100)}"
        step = format_value(plan.resolution_hz, "Hz", 3)
        self._plan_card.entitle(f"What each band shows, in steps of {step}{helper}")
        columns = [_band_column(row) for row in plan.bands]
        self.plan.show_rows(
            ("", *(words.band(row.band) for row in plan.bands)), list(zip(_FIGURES, *columns, strict=True))
        )
        reasons = [
            f"{words.band(r.band)}: {r.reading.reason}" for r in plan.bands if isinstance(r.reading, Unsolved)
        ]
        self.switching.setText("\n".join([*plan.switching, *reasons]))

    def _show_options(self, option: Options) -> None:
        spelled = words.band(option.band)
        self._alternatives = option.alternatives
        self._others_card.entitle(f"Other schemes for {spelled}, the simplest first")
        self._refused_card.entitle(f"Turned down for {spelled}, and why")
        self.others.clearSelection()
        self.others.show_rows(
            _OTHER_HEADS,
            [(r.scheme, _stored(r), r.filter or "none", str(r.birdies)) for r in option.alternatives],
        )
        self.refused.show_rows(("scheme", "reason"), [(r.scheme, r.reason) for r in option.refused])
        self._selected()

    def _picked(self) -> Reading | None:
        rows = {index.row() for index in self.others.selectedIndexes()}
        place = next(iter(rows), None)
        return None if place is None or place >= len(self._alternatives) else self._alternatives[place]

    def _selected(self) -> None:
        picked = self._picked()
        self.take.setEnabled(picked is not None and picked.helper_hz is not None)

    def _take(self) -> None:
        picked = self._picked()
        if picked is not None:
            self._settle(picked.helper_hz)

    def _settle(self, helper_hz: float | None) -> None:
        """Another helper is another crystal: what was measured of the one before is forgotten with it."""

        def settled(project: Project) -> Project:
            chosen = project.edited(("read_out", "helper_hz"), helper_hz)
            return chosen.edited(("read_out", "helper_measured_hz"), None)

        self._bench.change(settled, label="Helper crystal")


def _column(*parts: QWidget, stretch: tuple[int, ...] = (1,), gap: int = 4) -> QWidget:
    made = QWidget()
    column = QVBoxLayout(made)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(gap)
    for number, part in enumerate(parts):
        column.addWidget(part, stretch[number] if number < len(stretch) else 0)
    return made


def _stored(reading: Reading) -> str:
    if reading.direction == "none":
        return "nothing"
    return f"{'+' if reading.direction == 'add' else '−'} {reading.offset_hz / 1e6:.6f}"


#: What the plan's table says of each band, in the order of `_band_column`.
_FIGURES = ("scheme", "counted, MHz", "filter", "stored, MHz", "shows, MHz", "off by up to", "programme")


def _band_column(row: BandReadOut) -> tuple[str, ...]:
    if isinstance(row.reading, Unsolved):
        return ("cannot be shown", *("" for _ in _FIGURES[1:]))
    r = row.reading
    return (
        r.scheme,
        _span(*sorted(r.counted_hz)),
        r.filter or "none",
        _stored(r),
        _span(*r.shows_hz),
        "" if row.error is None else format_value(row.error.hz, "Hz", 2),
        "none" if row.programme is None else str(row.programme),
    )


def _span(low_hz: float, high_hz: float) -> str:
    return f"{low_hz / 1e6:.5f} to {high_hz / 1e6:.5f}"
