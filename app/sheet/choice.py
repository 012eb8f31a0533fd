"""Which sections of the build sheet are wanted: ticks that are remembered."""

from pathlib import Path

from PySide6.QtWidgets import QCheckBox, QDialog, QDialogButtonBox, QVBoxLayout, QWidget

from app.sheet.content.groups import GROUPS, but
from app.sheet.pages import Wanted
from app.state.dialogs import asked
from app.state.settings import Settings
from app.style.plain import Text


class SectionsDialog(QDialog):
    """A tick for each group of sections; the title block with the cautions stands always."""

    def __init__(self, chosen: tuple[str, ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Sections of the build sheet")
        self.ticks = {group: QCheckBox(words) for group, words in GROUPS.items()}
        column = QVBoxLayout(self)
        column.addWidget(Text("Title block, cautions and contents stand on every sheet."))
        for group, tick in self.ticks.items():
            tick.setChecked(group in chosen)
            column.addWidget(tick)
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column.addWidget(buttons)

    @property
    def left_out(self) -> tuple[str, ...]:
        """The groups that are not ticked."""
        return tuple(group for group, tick in self.ticks.items() if not tick.isChecked())


def chosen_sections(settings: Settings) -> tuple[str, ...]:
    """The groups of sections that the builder wants."""
    return but(settings.left_off_sheet)


def wanted(settings: Settings, file: Path | None) -> Wanted:
    """What the builder wants of a sheet of the design in a file."""
    return Wanted(chosen_sections(settings), file)


def choose_sections(settings: Settings, parent: QWidget | None = None) -> bool:
    """Ask which sections are wanted, and remember them; False when the builder gave up."""
    dialog = SectionsDialog(chosen_sections(settings), parent)
    if asked(dialog) != QDialog.DialogCode.Accepted:
        return False
    settings.left_off_sheet = dialog.left_out
    return True
