"""The carrier's crystal against its trimmer as a plot."""

from app.pictures.figures import NO_CURVE
from app.pictures.stages.pull import ROLES, PullPicture
from app.plots.base import Plot
from app.widgets.drawn import Drawn


class PullPlot(Drawn[PullPicture | str], Plot):
    """Frequency less the IF over the trimmer, a curve for each sideband in use."""

    def __init__(self) -> None:
        super().__init__("trimmer", "pF", "above the IF", "kHz")
        self.curves = [self.curve(role) for role in ROLES]
        self.wanted = [self.curve("intermediate") for _ in ROLES]
        self.labels.clear_of = (*self.curves, *self.wanted)

    def draw(self, picture: PullPicture | str) -> None:
        if isinstance(picture, str):
            self.say(picture)
            return
        self.say("")
        missing = [NO_CURVE] * (len(ROLES) - len(picture.curves))
        for curve, points in zip(self.curves, [*picture.curves, *missing], strict=True):
            self.put(curve, points)
        for line, points in zip(self.wanted, [*picture.wanted, *missing], strict=True):
            self.put(line, points)
        self.frame(*picture.frame)
        self.labels.show(picture.labels)
