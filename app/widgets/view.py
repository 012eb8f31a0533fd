"""What every part of the window that shows the design has in common."""

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QWidget

if TYPE_CHECKING:
    from app.state.workbench import Workbench
    from core.model.values.base import Path


class View(QWidget):
    """A part of the window that shows the workbench's present state.

    A view is registered with the window's `Refresher`, or is refreshed by the view it stands in. It asks
    the workbench's `analysis` for what it shows, and draws only when the answer is another object than
    the one on the screen. It never keeps design state of its own. Plots and numbers follow the hand at once
    (`refresh`); what nobody reads under a moving hand follows when it rests (`settle`).
    """

    #: The view came on screen and wants to catch up.
    shown = Signal()

    def refresh(self, bench: "Workbench") -> None:
        """Show the present state. Called when the view is visible and something changed: return early
        when what is shown is still the same object. Keep items and widgets; set only what differs."""

    def settle(self, bench: "Workbench") -> None:
        """Show what may follow when the hand rests: findings, schematics, ticks of birdies."""

    def restyle(self) -> None:
        """Take colours and pens from `app.style.palette` again; called after the theme changed."""
        self.update()

    def fold(self, narrow: bool) -> None:
        """Stand below one another what stands side by side on a wide page; called as the width changes."""

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.shown.emit()


class FieldsView(View):
    """A page that edits a part of the design itself."""

    def focus_field(self, path: "Path") -> None:
        """Give the focus to the field of a place of the design; each such page says which one that is."""
        raise NotImplementedError
