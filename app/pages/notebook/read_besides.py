"""What is read besides what the list asks for: any figure or part, found by what it is called."""

from collections.abc import Callable, Iterable

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QCompleter, QHBoxLayout, QLineEdit, QPushButton, QWidget

from core.rig.log.item import Item

_CHOOSE = "Choose what was read from the list that comes up while its name is typed."


class ReadBesides(QWidget):
    """Two fields and a button: what was read, and the reading."""

    #: Why a reading was refused; empty once one was taken.
    told = Signal(str)

    def __init__(self, give: Callable[[Item, str], str | None]) -> None:
        """`give` takes what was read and the text typed for it, and gives the reason where it is refused."""
        super().__init__()
        self._give = give
        self._known: dict[str, Item] = {}
        self.what = QLineEdit()
        self.what.setPlaceholderText("Any figure or part: begin to type")
        self.what.setAccessibleName("What was read besides")
        self.what.setToolTip("Parts and figures that the list lacks; a few letters of the name find them")
        self.amount = QLineEdit()
        self.what.returnPressed.connect(self.amount.setFocus)
        self.amount.setPlaceholderText("Reading")
        self.amount.setAccessibleName("Its reading")
        self.amount.setMaximumWidth(130)
        self.amount.returnPressed.connect(self._add)
        self.add = QPushButton("Add")
        self.add.clicked.connect(self._add)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        for part, share in ((self.what, 1), (self.amount, 0), (self.add, 0)):
            row.addWidget(part, share)

    def offer(self, known: Iterable[Item]) -> None:
        """Offer these while a name is typed."""
        offered, self._known = self._known.keys(), {each.title: each for each in known}
        if offered != self._known.keys():
            completer = QCompleter(sorted(self._known), self.what)
            completer.setFilterMode(Qt.MatchFlag.MatchContains)
            completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
            self.what.setCompleter(completer)

    def _add(self) -> None:
        item = self._known.get(self.what.text())
        refused = _CHOOSE if item is None else self._give(item, self.amount.text())
        self.told.emit(refused or "")
        if refused is None:
            self.amount.clear()
            self.what.clear()
            self.what.setFocus()
