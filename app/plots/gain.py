"""Amplifiers as plots: gain and match over frequency, with what stands beside; of a power amplifier its gain
over the bands, load line and temperature.
"""

from app.pictures.power.amplifier import LoadLinePicture, PowerGainPicture, WarmingPicture
from app.pictures.stages.amplifier import GainPicture
from app.pictures.stages.ends import EndsPicture
from app.plots.base import Plot
from app.plots.shapes import Shapes
from app.widgets.drawn import Drawn


class GainPlot(Drawn[GainPicture], Plot):
    """Gain, and what either port reflects, in dB over MHz."""

    def __init__(self) -> None:
        super().__init__("frequency", "MHz", "gain, reflected", "dB")
        self.into = self.curve("quiet")
        self.out = self.curve("quiet", dashed=True)
        self.held_line = self.curve("held", dashed=True)
        self.measured = self.curve("second_curve")
        self.line = self.curve("curve")
        self.labels.clear_of = (self.line, self.into, self.out, self.held_line)

    def draw(self, picture: GainPicture) -> None:
        self.put(self.into, picture.into)
        self.put(self.out, picture.out)
        self.put(self.held_line, picture.held)
        self.put(self.measured, picture.measured)
        self.put(self.line, picture.gain)
        self.frame(*picture.frame)
        self.labels.show(picture.labels)


class EndsPlot(Drawn[EndsPicture], Plot):
    """What is reflected through an amplifier beside a filter, and its gain there, in dB over kHz."""

    def __init__(self) -> None:
        super().__init__("from the middle", "kHz", "reflected, gain", "dB")
        self.alone = self.curve("quiet", dashed=True)
        self.change = self.curve("quiet")
        self.line = self.curve("curve")
        self.labels.clear_of = (self.line, self.alone, self.change)

    def draw(self, picture: EndsPicture) -> None:
        self.say(picture.sentence)
        self.put(self.alone, picture.alone)
        self.put(self.change, picture.change)
        self.put(self.line, picture.seen)
        self.frame(*picture.frame)
        self.labels.show(picture.labels)


class PowerGainPlot(Drawn[PowerGainPicture], Plot):
    """Power gain over MHz: as it counts, of the circuit, of the device; the bands behind."""

    def __init__(self) -> None:
        super().__init__("frequency", "MHz", "gain", "dB")
        self.bands = Shapes(self)
        self.network = self.curve("quiet")
        self.device = self.curve("quiet", dashed=True)
        self.held_line = self.curve("held", dashed=True)
        self.line = self.curve("curve")
        self.labels.clear_of = (self.line, self.network, self.device, self.held_line)

    def draw(self, picture: PowerGainPicture) -> None:
        self.bands.show_shapes(picture.shapes)
        self.put(self.network, picture.network)
        self.put(self.device, picture.device)
        self.put(self.held_line, picture.held)
        self.put(self.line, picture.gain)
        self.frame(*picture.frame)
        self.labels.show(picture.labels)


class LoadLinePlot(Drawn[LoadLinePicture], Plot):
    """Current over voltage at a drain or collector at full power."""

    def __init__(self) -> None:
        super().__init__("drain or collector", "V", "current", "A")
        self.device = self.curve("quiet", dashed=True)
        self.held_line = self.curve("held", dashed=True)
        self.line = self.curve("curve")
        self.labels.clear_of = (self.line, self.device, self.held_line)

    def draw(self, picture: LoadLinePicture) -> None:
        self.put(self.device, picture.device)
        self.put(self.held_line, picture.held)
        self.put(self.line, picture.path)
        self.frame(*picture.frame)
        self.labels.show(picture.labels)


class WarmingPlot(Drawn[WarmingPicture], Plot):
    """Junction and sink over minutes of transmitting without a pause."""

    def __init__(self) -> None:
        super().__init__("transmitting", "min", "temperature", "°C")
        self.limit = self.curve("soft", dashed=True)
        self.sink = self.curve("quiet")
        self.held_line = self.curve("held", dashed=True)
        self.line = self.curve("curve")
        self.labels.clear_of = (self.line, self.sink, self.limit, self.held_line)

    def draw(self, picture: WarmingPicture) -> None:
        self.put(self.limit, picture.limit)
        self.put(self.sink, picture.sink)
        self.put(self.held_line, picture.held)
        self.put(self.line, picture.junction)
        self.frame(*picture.frame)
        self.labels.show(picture.labels)
