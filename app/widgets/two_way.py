"""A small choice between a few ways to look at the same thing."""

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QPushButton, QWidget


class TwoWay(QWidget):
    """Small buttons side by side of which one is pressed; what is looked at, never part of the design."""

    #: Another one was chosen: its position.
    chosen = Signal(int)

    def __init__(self, texts: Sequence[str], what: str, parent: QWidget | None = None) -> None:
        """`what` is what the choice is about, for those who hear the window."""
        super().__init__(parent)
        self.setAccessibleName(what)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(3)
        self._group = QButtonGroup(self)
        self.buttons = [QPushButton(text) for text in texts]
        for place, button in enumerate(self.buttons):
            button.setCheckable(True)
            button.setProperty("look", "small")
            button.setAccessibleName(f"{what}: {texts[place]}")
            self._group.addButton(button, place)
            row.addWidget(button)
        self.buttons[0].setChecked(True)
        self._group.idClicked.connect(self.chosen)

    @property
    def place(self) -> int:
        """Position of the one that is pressed."""
        return self._group.checkedId()
