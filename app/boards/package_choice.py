"""A choice of the package that the part picked up on a board comes in."""

from PySide6.QtWidgets import QCheckBox, QSizePolicy, QVBoxLayout, QWidget

from app.pictures.rig.board_plan import PackageChoices
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.choice_box import ChoiceBox
from core.rig.board.edits import in_package

#: What a list has beside its texts, pixels.
_BESIDE = 30


class PackageChoice(QWidget):
    """The packages that the part can come in, for it alone or for all parts like it on its board."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self._bench = bench
        self._choices: PackageChoices | None = None
        self.title = Text()
        self.title.setWordWrap(True)
        self.box = ChoiceBox()
        self.box.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.box.setAccessibleName("Package")
        self.box.setToolTip(
            "Body and lead spacing of the part that is picked up; sizes that the table lacks are added under "
            "“Own packages” of the rig"
        )
        self.box.activated.connect(lambda _: self._choose())
        self.alike = QCheckBox("All parts like it")
        self.alike.setToolTip("Chooses for all parts of this board that do the same and are usually alike")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        for part in (self.title, self.box, self.alike):
            column.addWidget(part)

    def show_choices(self, choices: PackageChoices | None) -> None:
        """Show what a part can come in; nothing where there is no choice."""
        self.setVisible(choices is not None)
        if choices is None or choices == self._choices:
            self._choices = choices
            return
        self._choices = choices
        self.title.setText(f"{choices.ref} comes in")
        self.box.clear()
        for word, name in choices.offered:
            self.box.addItem(name, word)
        # The box is narrow; what it drops down is as wide as its longest name.
        longest = max(self.box.fontMetrics().horizontalAdvance(name) for _, name in choices.offered)
        self.box.view().setMinimumWidth(longest + _BESIDE)
        self.box.setCurrentIndex(max(self.box.findData(choices.present), 0))
        self.alike.setEnabled(len(choices.alike) > 1)

    def _choose(self) -> None:
        choices = self._choices
        if choices is None:
            return
        keys = choices.alike if self.alike.isEnabled() and self.alike.isChecked() else (choices.key,)
        word, board = self.box.currentData(), (choices.stage, choices.bands)
        refused = self._bench.change(
            lambda project: in_package(project, *board, keys, word), label=f"Package of {choices.ref}"
        )
        if refused is not None:
            self.box.setCurrentIndex(max(self.box.findData(choices.present), 0))
