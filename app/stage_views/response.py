"""A filter's response in a plot, with what is held dashed: for ladder, band-pass and low-pass alike."""

from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np

from app.plots.response import Mark, ResponsePlot
from app.stage_views.base import POINTS
from core.circuits.ladder import solve
from core.model.notation import format_value
from core.stages.outcome import FilterDesign, FilterFigures


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A filter's response as drawn: the circuit, the held one dashed, the range [Hz] and what stands beside.

    Designs compare by identity, as they come out of caches; `key` tells whose picture it is, so that a
    builder's zoom stays.
    """

    design: FilterDesign
    held: FilterDesign | None
    low_hz: float
    high_hz: float
    depth_db: float
    key: Hashable
    marks: tuple[Mark, ...] = ()
    notes: tuple[str, ...] = ()
    return_loss: bool = False


def draw_response(plot: ResponsePlot, picture: Picture) -> None:
    """Draw the exact response of a picture's circuits."""
    f_hz = np.linspace(picture.low_hz, picture.high_hz, POINTS)
    now, held = solve(picture.design.network, f_hz), picture.held
    plot.show_response(
        f_hz / 1e6,
        -now.loss_db,
        depth_db=picture.depth_db,
        key=picture.key,
        held=None if held is None else (f_hz / 1e6, -solve(held.network, f_hz).loss_db),
        beside=("return loss", -now.return_loss_db) if picture.return_loss else None,
        marks=picture.marks,
        notes=picture.notes,
    )


def widths(figures: FilterFigures) -> list[str]:
    """The figures that stand in a response's corner."""
    rows = [
        ("−3 dB", figures.bandwidth_3db_hz),
        ("−6 dB", figures.bandwidth_6db_hz),
        ("−60 dB", figures.bandwidth_60db_hz),
    ]
    texts = [f"{depth}  {hertz(width)}" for depth, width in rows if width is not None]
    return [*texts, f"loss  {figures.insertion_loss_db:.1f} dB", f"ripple  {figures.ripple_db:.2f} dB"]


def hertz(value_hz: float) -> str:
    """A frequency with four digits."""
    return format_value(value_hz, "Hz", 4)
