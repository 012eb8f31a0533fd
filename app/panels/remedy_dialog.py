"""Seen before it is done: what the remedy of a finding does to the rig, held against how it is now."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QButtonGroup,
    QDialog,
    QDialogButtonBox,
    QRadioButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.pictures.panels.remedy import RemedyPicture, picture_of
from app.state.workbench import Workbench
from app.style.plain import Text, on_button
from app.widgets.drawn import Drawn
from app.widgets.figure_table import FigureTable
from core.record import record
from core.rig.analysis import Analysis
from core.rig.findings import Edit
from core.rig.rules import inspection
from core.stages.steps import Steps


@record
class Tried:
    """Edits of a design that were sought, why, and the design that each leads to."""

    now: Analysis
    why: str
    choices: tuple[tuple[Edit, Analysis], ...]


def tried(now: Analysis, why: str, edits: tuple[Edit, ...]) -> Steps[Tried]:
    """The edits done beside the design and looked through, so that what they do is told at once."""
    choices = tuple((edit, Analysis(edit.on(now.project))) for edit in edits)
    for _, then in choices:
        yield from inspection(then)
    return Tried(now, why, choices)


def offer(bench: Workbench, parent: QWidget, found: Tried, band: str) -> None:
    """Show what the edits do on a band; the one that is accepted is one step of undo."""
    dialog = RemedyDialog(
        found.why,
        tuple((edit, picture_of(found.now, then, edit, band)) for edit, then in found.choices),
        parent,
    )

    def mend() -> None:
        edit = dialog.chosen
        if edit is not None:
            bench.change(edit.on, label=f"{edit.label[:1].lower()}{edit.label[1:]}")

    dialog.accepted.connect(mend)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.open()


class RemedyDialog(Drawn[RemedyPicture], QDialog):
    """Edits, why they are offered, and what the chosen one does; `chosen` once the dialog was accepted."""

    def __init__(
        self,
        why: str,
        choices: tuple[tuple[Edit, RemedyPicture], ...],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("What the remedy does")
        self.resize(620, 400)
        self._choices = choices
        self.chosen: Edit | None = None
        told = Text(why)
        told.setWordWrap(True)
        self.buttons = QButtonGroup(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 14, 16, 12)
        column.addWidget(told)
        for number, (edit, _) in enumerate(choices):
            choice = QRadioButton(on_button(edit.label))
            choice.setChecked(number == 0)
            self.buttons.addButton(choice, number)
            column.addWidget(choice)
        self.table = FigureTable(fitted=True, even=False)
        self.table.setAccessibleName("Figures that change")
        self.changes = Text()
        self.changes.setWordWrap(True)
        self.changes.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        inner = QWidget()
        under = QVBoxLayout(inner)
        under.setContentsMargins(0, 0, 0, 0)
        under.addWidget(self.table)
        under.addWidget(self.changes)
        under.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFrameShape(QScrollArea.Shape.NoFrame)
        area.setWidget(inner)
        column.addWidget(area, 1)
        box = QDialogButtonBox()
        self.apply = box.addButton("Do it", QDialogButtonBox.ButtonRole.AcceptRole)
        box.addButton("Leave it as it is", QDialogButtonBox.ButtonRole.RejectRole)
        box.accepted.connect(self.accept)
        box.rejected.connect(self.reject)
        column.addWidget(box)
        self.buttons.idToggled.connect(self._choose)
        self._choose(0, True)

    def accept(self) -> None:
        self.chosen = self._choices[self.buttons.checkedId()][0]
        super().accept()

    def draw(self, picture: RemedyPicture) -> None:
        self.table.show_rows(
            ("figure", "now", "then"),
            [(row.name, row.held, row.now) for row in picture.rows],
            [row.tip for row in picture.rows],
        )
        self.table.setVisible(bool(picture.rows))
        parts = []
        for title, texts in (("Goes:", picture.gone), ("Comes:", picture.come)):
            if texts:
                parts.append("\n".join((title, *(f"  {text}" for text in texts))))
        self.changes.setText("\n\n".join(parts))

    def _choose(self, number: int, on: bool) -> None:
        if on:
            self.show_picture(self._choices[number][1])
