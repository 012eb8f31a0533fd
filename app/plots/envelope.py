"""The corridor in which most of many scattered filters lie."""

from app.pictures.bench.tolerance import EnvelopePicture
from app.plots.base import Plot
from app.plots.shapes import Shapes
from app.widgets.drawn import Drawn


class EnvelopePlot(Drawn[EnvelopePicture | str], Plot):
    """Responses of many filters as a corridor, and the nominal one as a line; or a sentence."""

    def __init__(self) -> None:
        super().__init__("frequency", "MHz", "response", "dB")
        self.corridor = Shapes(self)
        self.nominal = self.curve("curve")

    def draw(self, picture: EnvelopePicture | str) -> None:
        if isinstance(picture, str):
            self.say(picture)
            return
        self.say("")
        self.corridor.show_shapes(picture.corridor)
        self.put(self.nominal, picture.nominal)
        self.frame(*picture.frame)
