"""Read-out: how a simple counter shows the dial on every band, and which schemes were turned down."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractItemView, QPushButton

from app.pages.beside import BesidePage, in_a_column, in_a_row, scrolled
from app.panels.forms import Form
from app.pictures.bench.read_out import OtherSchemes, ReadOutPicture, picture_of
from app.plots.base import Card
from app.stage_views.cards.schematic_view import SchematicView
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.drawn import Drawn
from app.widgets.figure_table import FigureTable
from app.widgets.number_field import NumberField
from app.widgets.view import FieldsView
from core.model.project import Project
from core.model.values.base import Path


class ReadOutPage(Drawn[ReadOutPicture | str], BesidePage, FieldsView):
    """The counter on the left; on the right the plan, other schemes, and those turned down."""

    least = (820, 1400)
    #: What a helper of parts takes besides, pixels.
    _HELPER_HEIGHT = 460

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
        self._plan_card = Card("What each band shows", scrolled(in_a_column(self.plan, self.switching)))
        self._others_card = Card("Other schemes", in_a_column(self.others, in_a_row(self.take, self.free)))
        self._refused_card = Card("Turned down, and why", self.refused)
        self._narrow = False
        self.helper, self.schematic, self.reason = FigureTable(fitted=True), SchematicView(), Text()
        self.reason.setWordWrap(True)
        of_helper = in_a_column(self.reason, self.helper, self.schematic, stretch=(0, 0, 1))
        self._helper_card = Card("Helper oscillator", of_helper)
        self._helper_card.hide()
        cards = (self._plan_card, self._helper_card, self._others_card, self._refused_card)
        self.lay_out(
            "Counter and helper",
            (self.form,),
            in_a_column(*cards, stretch=(6, 9, 4, 5), gap=8),
            shares=(2, 4),
        )

    def refresh(self, bench: Workbench) -> None:
        self.form.show_model(bench.current, ())
        self.show_picture(picture_of(bench.analysis, bench.look))

    def fold(self, narrow: bool) -> None:
        super().fold(narrow)
        self._narrow = narrow
        self._make_room()

    def _make_room(self) -> None:
        more = 0 if self._helper_card.isHidden() else self._HELPER_HEIGHT
        self.setMinimumHeight(self.least[self._narrow] + more)

    def draw(self, picture: ReadOutPicture | str) -> None:
        planned = not isinstance(picture, str)
        helper = "" if isinstance(picture, str) else picture.helper
        self._helper_card.setVisible(bool(helper))
        for each in (self.helper, self.schematic):
            each.setVisible(not isinstance(helper, str))
        self.reason.setText(helper if isinstance(helper, str) else "")
        self.reason.setVisible(isinstance(helper, str))
        self._make_room()
        if not isinstance(helper, str):
            self.helper.show_told(helper[0])
            self.schematic.show_circuit(helper[1])
        self._others_card.setVisible(planned)
        self._refused_card.setVisible(planned)
        if isinstance(picture, str):
            self.plan.show_rows(("",), ())
            self.switching.setText(picture)
            return
        self._plan_card.entitle(picture.title)
        self.plan.show_told(picture.plan)
        self.switching.setText(picture.switching)
        self.free.setEnabled(picture.chosen)
        if picture.others is not None:
            self._show_others(picture.others)

    def _show_others(self, schemes: OtherSchemes) -> None:
        self._others_card.entitle(f"Other schemes for {schemes.band}, the simplest first")
        self._refused_card.entitle(f"Turned down for {schemes.band}, and why")
        self.others.clearSelection()
        self.others.show_told(schemes.rows)
        self.refused.show_told(schemes.refused)
        self._selected()

    def focus_field(self, path: Path) -> None:
        self.refresh(self._bench)
        field = self.form.field_at(path)
        if field is not None:
            field.setFocus()
            if isinstance(field, NumberField):
                field.selectAll()

    def _picked_hz(self) -> float | None:
        """The helper crystal [Hz] of the selected scheme; None when none is selected, or it takes none."""
        picture, rows = self.shown_picture, {index.row() for index in self.others.selectedIndexes()}
        if not isinstance(picture, ReadOutPicture) or picture.others is None or not rows:
            return None
        return picture.others.helpers_hz[rows.pop()]

    def _selected(self) -> None:
        self.take.setEnabled(self._picked_hz() is not None)

    def _take(self) -> None:
        picked_hz = self._picked_hz()
        if picked_hz is not None:
            self._settle(picked_hz)

    def _settle(self, helper_hz: float | None) -> None:
        """Another helper is another crystal: what was measured of the one before is forgotten with it."""

        def settled(project: Project) -> Project:
            chosen = project.edited(("read_out", "helper_hz"), helper_hz)
            return chosen.edited(("read_out", "helper_measured_hz"), None)

        self._bench.change(settled, label="Helper crystal")
