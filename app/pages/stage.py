"""Stage: the plots of what is selected, and the schematic of the circuit that was solved."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout

from app.stage_views.base import StageView
from app.stage_views.cards.measured_card import bring
from app.stage_views.carrier import CarrierView
from app.stage_views.kinds import view_of
from app.stage_views.measured_view import MeasuredView
from app.stage_views.sending import SendingView
from app.stage_views.vfo import VfoView
from app.state.workbench import Workbench
from app.style.plain import Text
from app.widgets.view import View

_LEAST_HEIGHT = 400
#: Room around a sentence that stands alone, pixels.
_AROUND = 24
#: What measured curves are kept in; anything else that is dropped is a design to be opened.
_CURVES = (".s2p", ".csv")


class StagePage(View):
    """The view that the selected stage's kind asks for, or a sentence; views are made when first needed."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self.sentence = Text()
        self.sentence.setWordWrap(True)
        # At the top: the page may be higher than the window shows of it.
        self.sentence.setAlignment(Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop)
        self.sentence.setMargin(_AROUND)
        self._narrow = False
        self._views: dict[type[StageView], StageView] = {}
        self._stack = QStackedWidget()
        self._stack.addWidget(self.sentence)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._stack)

    @property
    def view(self) -> StageView | None:
        """The view on show; None while there is a sentence."""
        current = self._stack.currentWidget()
        return current if isinstance(current, StageView) else None

    def refresh(self, bench: Workbench) -> None:
        wanted = _view_for(bench)
        if wanted is None:
            self._show(_what_to_select(bench))
            return
        if wanted not in self._views:
            self._views[wanted] = wanted()
            self._views[wanted].fold(self._narrow)
            self._stack.addWidget(self._views[wanted])
        view = self._views[wanted]
        self._show(view.refresh(bench), view)

    def settle(self, bench: Workbench) -> None:
        if self.view is not None:
            self.view.settle()

    def restyle(self) -> None:
        for view in self._views.values():
            view.restyle()

    def _show(self, sentence: str, view: StageView | None = None) -> None:
        self.sentence.setText(sentence)
        self._stack.setCurrentWidget(self.sentence if sentence or view is None else view)
        self._set_least()

    def fold(self, narrow: bool) -> None:
        self._narrow = narrow
        for view in self._views.values():
            view.fold(narrow)
        self._set_least()

    def _set_least(self) -> None:
        """The page scrolls before the cards of the view on show get too low."""
        least = max(_LEAST_HEIGHT, self.view.least_height if self.view else 0)
        if least != self.minimumHeight():
            self.setMinimumHeight(least)


_BESIDE_THE_PATH: dict[str | int, type[StageView]] = {
    "carrier": CarrierView,
    "vfo": VfoView,
    "microphone": SendingView,
}


def _view_for(bench: Workbench) -> type[StageView] | None:
    """The view of what is selected."""
    stage = bench.selected_stage
    if stage is None:
        return _BESIDE_THE_PATH.get(bench.selection[0]) if bench.selection else None
    return view_of(stage.kind)


def _what_to_select(bench: Workbench) -> str:
    names = {"station": "station", "speaker": "speaker"}
    part = names.get(str(bench.selection[0])) if bench.selection else None
    if part:
        return f"The {part} has no plots of its own; edit it on the left and see it in the whole rig's plots."
    return "Select a stage on the signal path to see its response, its schematic and its levels."


def ask_for_curve(page: View, say: Callable[[str], None]) -> None:
    """Ask for a measured curve of the stage that a page shows; without one, say what to select."""
    view = _stage_on(page)
    if view is None:
        say("A measured curve belongs to a stage; select one on the signal path and show its page.")
    else:
        view.open_measured()


def brought(bench: Workbench, page: View, file: Path) -> bool:
    """Keep a dropped curve as that of the stage that a page shows; False where it is none, or no stage."""
    if file.suffix.lower() not in _CURVES or _stage_on(page) is None:
        return False
    bring(bench, file)
    return True


def _stage_on(page: View) -> MeasuredView[Any] | None:
    view = page.view if isinstance(page, StagePage) else None
    return view if isinstance(view, MeasuredView) else None
