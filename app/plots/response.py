"""A filter's response over frequency, with marks where other signals lie."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.pictures.figures import Label, Shape, Span
from app.plots.base import Plot, Shapes, finite
from core.circuits.ladder import Array

#: Lowest attenuation drawn, dB.
FLOOR_DB = -140.0


@dataclass(frozen=True, slots=True)
class Mark:
    """A range [MHz] of interest in the picture, with its name and colour."""

    low: float
    high: float
    text: str
    role: str
    importance: float = 0.0


class ResponsePlot(Plot):
    """Attenuation below 0 dB over frequency in MHz."""

    def __init__(self, y: str = "response", x: str = "frequency", x_unit: str = "MHz") -> None:
        super().__init__(x, x_unit, y, "dB")
        self.shapes = Shapes(self)
        self.beside_line = self.curve("quiet")
        self.held_line = self.curve("held", dashed=True)
        self.line = self.curve("curve")
        self.labels.clear_of = (self.line, self.beside_line)
        self.getPlotItem().getAxis("left").setWidth(52)

    def show_response(
        self,
        x: Array,
        response_db: Array,
        *,
        depth_db: float,
        key: object,
        held: tuple[Array, Array] | None = None,
        beside: tuple[str, Array] | None = None,
        marks: Sequence[Mark] = (),
        notes: Sequence[str] = (),
    ) -> None:
        """Draw a response down to −`depth_db`; `held` is the held design's (x, response), `beside` the name
        and values of a quiet second curve on the same x.
        """
        self.say("")
        self.line.setData(x, finite(response_db, FLOOR_DB))
        if held is None:
            self.held_line.setData(np.empty(0), np.empty(0))
        else:
            # Dashes cost by the point: a quarter of them is plenty for the eye.
            self.held_line.setData(held[0][::4], finite(held[1][::4], FLOOR_DB))
        span: Span = (float(x[0]), float(x[-1]))
        top = 0.06 * depth_db
        width = span[1] - span[0]
        shapes, labels = [], []
        for mark in marks:
            lack = max(0.0, 0.004 * width - (mark.high - mark.low)) / 2 if mark.high > mark.low else 0.0
            shapes.append(
                Shape.box((mark.low - lack, mark.high + lack), (-depth_db, top), "corridor", mark.role)
            )
            at = (mark.low + mark.high) / 2
            level = float(np.interp(at, x, finite(response_db, FLOOR_DB)))
            labels.append(
                Label(
                    mark.high + lack,
                    max(level, -0.9 * depth_db),
                    mark.text,
                    mark.role,
                    "above_right",
                    mark.importance,
                )
            )
        if beside is not None:
            name, values = beside
            self.beside_line.setData(x, finite(values, FLOOR_DB))
            place = x.size // 12
            labels.append(Label(float(x[place]), float(values[place]), name, "soft", "below_right", 2))
        self.shapes.show_shapes(shapes)
        self.frame(span, (-depth_db, top), key)
        if notes:
            labels.append(
                Label(span[1] - 0.01 * width, -0.02 * depth_db, "\n".join(notes), "soft", "below_left", 99)
            )
        self.labels.show(labels)


class DelayPlot(Plot):
    """Group delay in milliseconds over the tone, with its spread over speech."""

    def __init__(self) -> None:
        super().__init__("tone", "Hz", "group delay", "ms")
        self.shapes = Shapes(self)
        self.held_line = self.curve("held", dashed=True)
        self.line = self.curve("curve")
        self.labels.clear_of = (self.line,)
        self.getPlotItem().getAxis("left").setWidth(52)

    def show_delay(
        self, x_hz: Array, delay_s: Array, spread_s: float, speech_hz: Span, held_s: Array | None = None
    ) -> None:
        """Draw the delay [s] over tones [Hz]; `spread_s` is the spread within `speech_hz`."""
        self.say("")
        self.line.setData(x_hz, 1e3 * delay_s)
        if held_s is None:
            self.held_line.setData(np.empty(0), np.empty(0))
        else:
            self.held_line.setData(x_hz[::4], 1e3 * held_s[::4])
        # A round top, so that the axis does not dance while the IF is turned.
        top = float(np.ceil(2.2e3 * delay_s.max()) / 2)
        self.shapes.show_shapes([Shape.box(speech_hz, (0.0, top), "corridor")])
        self.frame((float(x_hz[0]), float(x_hz[-1])), (0.0, top), "delay")
        text = f"spread {1e3 * spread_s:.2f} ms\nover {speech_hz[0]:.0f} to {speech_hz[1]:.0f} Hz"
        self.labels.show([Label(speech_hz[1], 0.98 * top, text, "soft", "below_right", 9)])
