"""The microphone, the transmitter behind it, and gain that may come back through the box."""

from app.pictures.rig.sending import SendingPicture, picture_of
from app.stage_views.base import StageView
from app.state.workbench import Workbench
from app.widgets.figure_table import FigureTable
from core.stages.outcome import Unsolved


class SendingView(StageView[SendingPicture]):
    """What the microphone gives, what two tones become, and every loop at one frequency."""

    def __init__(self) -> None:
        super().__init__()
        self.microphone, self.transmitter, self.loops = FigureTable(), FigureTable(), FigureTable()
        self.card("Microphone on speech peaks", self.microphone, 0, 0)
        self._transmitter_card = self.card("Transmitter", self.transmitter, 0, 1)
        self.card("Gain at one frequency against isolation in the box", self.loops, 1, 0)

    def picture_of(self, bench: Workbench) -> SendingPicture | Unsolved:
        return picture_of(bench.analysis, bench.look)

    def draw(self, picture: SendingPicture) -> None:
        self.microphone.show_told(picture.microphone)
        self._transmitter_card.entitle(picture.transmitter_title)
        self.transmitter.show_told(picture.transmitter)
        self.loops.show_told(picture.loops)
