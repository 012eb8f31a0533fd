"""Fields of a panel: its size, another fitting, and what is written at the one picked up."""

from collections.abc import Hashable
from functools import partial

from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.choice_box import ChoiceBox
from app.widgets.number_field import NumberField
from app.widgets.text_field import TextField
from core.model.boards.board import Panel
from core.rig.board.panels import added, changed, labelled, panel_of
from core.trade.bodies.fittings import Side, fittings


class PanelFields(QWidget):
    """A row of fields over a panel."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self._bench = bench
        self._side: Side = "front"
        self._number: int | None = None
        self.sizes = {
            name: NumberField.for_field(Panel.model_fields[name], partial(self._size, name))
            for name in ("width_m", "height_m")
        }
        self.label = TextField(self._write, "What is written at the fitting that is picked up")
        self.label.setAccessibleName("Label")
        self.label.setPlaceholderText("label")
        self.kinds = ChoiceBox()
        self.kinds.setAccessibleName("Another fitting")
        for kind in fittings().values():
            self.kinds.addItem(kind.name, kind.fitting)
        self.add = QPushButton("Add")
        self.add.setToolTip("Puts another one on the panel where there is room; Delete takes one off")
        self.add.clicked.connect(self._add)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        for part in (Text("Size"), *self.sizes.values(), self.label, self.kinds, self.add):
            row.addWidget(part)

    def show_panel(self, side: Side, number: int | None) -> None:
        """Show the size of a panel, and what is written at one of its fittings."""
        self._side, self._number = side, number
        panel = panel_of(self._bench.current, side)
        for name, field in self.sizes.items():
            field.set_value(getattr(panel, name))
        known = number is not None and number < len(panel.fittings)
        self.label.setEnabled(known)
        self.label.set_value(panel.fittings[number].label if known and number is not None else "")

    def _size(self, name: str, value: float | None, gesture: Hashable | None) -> str | None:
        side = self._side
        return self._bench.change(
            lambda project: changed(project, side, name, value), label="Size of the panel", gesture=gesture
        )

    def _write(self, text: str) -> str | None:
        side, number = self._side, self._number
        if number is None:
            return None
        return self._bench.change(lambda project: labelled(project, side, number, text), label="Label")

    def _add(self) -> None:
        side, kind = self._side, self.kinds.currentData()
        self._bench.change(lambda project: added(project, side, kind), label="Another fitting")
