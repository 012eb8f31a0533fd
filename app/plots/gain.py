"""An amplifier's gain and match over frequency, and with what stands beside it, as plots."""

from app.pictures.stages.amplifier import GainPicture
from app.pictures.stages.ends import EndsPicture
from app.plots.base import Plot
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
