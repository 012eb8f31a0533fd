"""A filter's response in a plot, with what is held dashed: for ladder, band-pass and low-pass alike."""

from collections.abc import Sequence

import numpy as np

from app.plots.response import Mark, ResponsePlot
from core.circuits.ladder import solve
from core.model.notation import format_value
from core.stages.outcome import FilterDesign, FilterFigures


def draw_response(
    plot: ResponsePlot,
    design: FilterDesign,
    held: FilterDesign | None,
    f_hz: np.ndarray,
    depth_db: float,
    key: object,
    marks: Sequence[Mark] = (),
    notes: Sequence[str] = (),
    *,
    return_loss: bool = False,
) -> None:
    """Draw a design's exact response on a grid [Hz] down to −`depth_db`, return loss beside it if asked."""
    now = solve(design.network, f_hz)
    kept = None if held is None else (f_hz / 1e6, -solve(held.network, f_hz).loss_db)
    plot.show_response(
        f_hz / 1e6,
        -now.loss_db,
        depth_db=depth_db,
        key=key,
        held=kept,
        beside=("return loss", -now.return_loss_db) if return_loss else None,
        marks=marks,
        notes=notes,
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
