"""What the views of the stages have in common: cards in a grid, drawn only when their state changed."""

from typing import Any

from PySide6.QtWidgets import QGridLayout, QWidget

from app.plots.base import Card, Plot
from app.schematic_view import SchematicView
from app.workbench import Workbench
from core.model.filters import LadderFilter
from core.stages.outcome import FilterDesign, Unsolved

#: Points of a drawn response.
POINTS = 601


class StageView(QWidget):
    """The plots and tables of one kind of stage."""

    def __init__(self) -> None:
        super().__init__()
        self.grid = QGridLayout(self)
        self.grid.setContentsMargins(0, 0, 0, 0)
        self.grid.setSpacing(8)
        self._shown: tuple[Any, ...] = ()

    def refresh(self, bench: Workbench) -> str:
        """Show the selected stage; returns the sentence to show instead when there is nothing to draw."""
        raise NotImplementedError

    def restyle(self) -> None:
        """Take colours and pens again after the theme changed."""
        for plot in self.findChildren(Plot):
            plot.restyle()
        for drawing in self.findChildren(SchematicView):
            drawing.restyle()
        self._shown = ()

    def card(
        self,
        title: str,
        content: QWidget,
        row: int,
        column: int,
        columns: int = 1,
        *,
        corner: QWidget | None = None,
    ) -> Card:
        """A card at a place of the grid; rows and columns share the room evenly."""
        made = Card(title, content, corner=corner)
        self.grid.addWidget(made, row, column, 1, columns)
        for each in range(column, column + columns):
            self.grid.setColumnStretch(each, 1)
        self.grid.setRowStretch(row, 1)
        return made

    def is_shown(self, *state: Any) -> bool:
        """Whether this very state is on show; remembers it."""
        same = len(state) == len(self._shown) and all(
            a is b or a == b for a, b in zip(state, self._shown, strict=True)
        )
        self._shown = state
        return same


def reason_of(*results: object) -> str:
    """Why there is nothing to show: the first reason among the results, empty when all exist."""
    return next((each.reason for each in results if isinstance(each, Unsolved)), "")


def held_design(bench: Workbench, stage_id: str) -> FilterDesign | None:
    """The held design's filter of that stage on the band looked at; None when there is none."""
    held = bench.held_analysis
    if held is None or all(stage.id != stage_id for stage in held.project.stages):
        return None
    design = held.filter_design(stage_id, bench.band_name)
    return None if isinstance(design, Unsolved) else design


def held_ladder(bench: Workbench) -> LadderFilter | None:
    """The held design's ladder where it has the band looked at; None when there is none."""
    held = bench.held_analysis
    if held is None or all(band.name != bench.band_name for band in held.project.bands):
        return None
    return held.ladder
