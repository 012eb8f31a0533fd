"""The birdie finder: heard with the dial here, moving so fast, so it is probably that."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFormLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from app.pictures.rig.birdie_finder import FinderPicture, picture_of
from app.state.workbench import Workbench
from app.style import words
from app.style.numbers import Style
from app.style.plain import Text
from app.widgets.choice_box import ChoiceBox
from app.widgets.drawn import Drawn
from app.widgets.figure_table import FigureTable
from app.widgets.number_field import NumberField
from core.model.values.quantities import Unit
from core.rig.birdie_finder import Direction

#: How a tone may move against an ordinary signal's: as told to the builder, and how many times as fast.
_MOVES: tuple[tuple[str, float | None], ...] = (
    ("I cannot tell", None),
    ("not at all", 0.0),
    ("as a signal's", 1.0),
    *((f"{n} times as fast", float(n)) for n in range(2, 17)),
)
#: Which way it moves: as told to the builder, and what the finder is asked.
_DIRECTIONS: tuple[tuple[str, Direction | None], ...] = (
    ("I cannot tell", None),
    ("with the dial, as a signal's", "with"),
    ("against it, the other way", "against"),
)
#: A table lower than this tells little, pixels.
_TABLE_HEIGHT = 90


class BirdiePanel(Drawn[FinderPicture], QWidget):
    """Where a tone was heard and how it moves, and below what would make it."""

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self._bench = bench
        self._heard_hz: dict[str, float] = {}
        self.heard = NumberField(self._give, Unit("Hz", scaled=True), style=Style(places=6, exponent=6))
        self.heard.setAccessibleName("Heard with the dial at")
        self.here = QPushButton("Take the dial's")
        self.here.setProperty("look", "small")
        self.here.setToolTip("The tone was heard where the dial stands now")
        self.here.clicked.connect(self._take_dial)
        self.moves = ChoiceBox()
        self.moves.setAccessibleName("Its tone moves")
        self.moves.setToolTip(
            "How far the tone's pitch goes when the dial is turned a little, against a signal's"
        )
        for text, value in _MOVES:
            self.moves.addItem(text, value)
        self.moves.activated.connect(lambda _: self.refresh(bench))
        self.direction = ChoiceBox()
        self.direction.setAccessibleName("Direction of its tone")
        self.direction.setToolTip(
            "Tune an ordinary signal and listen which way its pitch goes; does the tone's go the same way?"
        )
        for text, way in _DIRECTIONS:
            self.direction.addItem(text, way)
        self.direction.activated.connect(lambda _: self.refresh(bench))
        self.table = FigureTable()
        self.sentence = Text()
        self.sentence.setWordWrap(True)
        form = QFormLayout()
        form.setContentsMargins(0, 0, 0, 0)
        form.addRow(Text("Heard with the dial at"), self.heard)
        form.addRow(Text(), self.here)
        form.addRow(Text("Its tone moves"), self.moves)
        form.addRow(Text("and goes"), self.direction)
        self.table.setMinimumHeight(_TABLE_HEIGHT)
        inside = QWidget()
        inside.setProperty("look", "ground")
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(form)
        column.addWidget(self.sentence)
        column.addWidget(self.table, 1)
        # Where the page is low it scrolls, before a field gets too low to read.
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(inside)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(area)

    def refresh(self, bench: Workbench) -> None:
        """Show what the present design would make of what was heard on the band looked at."""
        band = bench.band
        heard = self._heard_hz.setdefault(band.name, bench.dial_hz)
        self.heard.set_value(heard)
        moves, direction = self.moves.currentData(), self.direction.currentData()
        self.show_picture(picture_of(bench.analysis, bench.look, heard, moves, direction))

    def draw(self, picture: FinderPicture) -> None:
        self.table.show_told(picture.table)
        self.table.setVisible(bool(picture.table.rows))
        self.sentence.setText(picture.verdict)

    def _give(self, value: float | None, gesture: object = None) -> str | None:
        band = self._bench.band
        if value is None or not band.low_hz <= value <= band.high_hz:
            return f"The dial of {words.band(band.name)} does not go there; type what it showed."
        self._heard_hz[band.name] = value
        self.refresh(self._bench)
        return None

    def _take_dial(self) -> None:
        self._heard_hz[self._bench.band_name] = self._bench.dial_hz
        self.heard.replace(self._bench.dial_hz)
        self.refresh(self._bench)
