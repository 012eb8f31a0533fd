"""A button that chooses the core for coils, and the sentence that says why."""

from collections.abc import Callable

from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from app.state.workbench import Workbench
from app.style.plain import Text
from core.rig.wound.core_choice import CoreChoice
from core.stages.outcome import Unsolved


class CoreChooser(QWidget):
    """Chooses by `find`, which is asked when the button is pressed; `help` says what it goes by.

    The sentence stays for as long as that core is on those coils.
    """

    def __init__(self, find: Callable[[Workbench], CoreChoice | Unsolved], help: str) -> None:
        super().__init__()
        self._find = find
        self._bench: Workbench | None = None
        #: The coils looked at and their core; and of which coils and core something was said.
        self._about: tuple[str, str] | None = None
        self._said: tuple[tuple[str, str], str] | None = None
        self.button = QPushButton("Choose the core")
        self.button.setToolTip(f"{help}; one undo takes it back")
        self.button.clicked.connect(self._choose)
        self.why = Text()
        self.why.setWordWrap(True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.why)
        row = QHBoxLayout()
        row.addWidget(self.button)
        row.addStretch(1)
        column.addLayout(row)
        self._tell()

    def show_for(self, bench: Workbench, coils: str, core: str) -> None:
        """The coils looked at, by a name, and the core that they are on."""
        self._bench, self._about = bench, (coils, core)
        self._tell()

    def _tell(self) -> None:
        fits = self._said is not None and self._said[0] == self._about
        self.why.setText(self._said[1] if fits and self._said is not None else "")
        self.why.setVisible(fits)

    def _choose(self) -> None:
        bench, about = self._bench, self._about
        if bench is None or about is None:
            return
        found = self._find(bench)
        if isinstance(found, Unsolved):
            self._said = (about, found.reason)
        else:
            self._said = ((about[0], found.core), found.why)
            bench.change(found.edit.on, label=f"choosing {found.core} for the coils")
        self._tell()
