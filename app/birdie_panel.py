"""The birdie finder: heard with the dial here, moving so fast, so it is probably that."""

from PySide6.QtWidgets import QFormLayout, QPushButton, QVBoxLayout, QWidget

from app import palette, words
from app.choice_box import ChoiceBox
from app.figure_table import FigureTable
from app.number_field import NumberField, Style
from app.plain import Text
from app.workbench import Workbench
from core.model.notation import format_frequency, signed
from core.model.quantities import Unit
from core.rig.birdie_finder import Candidate, Direction, candidates

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
_HEADS = ("product", "order", "expected", "off by", "level")
#: Candidates shown; what lies further down explains nothing.
_MOST = 12


class BirdiePanel(QWidget):
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
        self.table = FigureTable(wrapped=True)
        self.sentence = Text()
        self.sentence.setWordWrap(True)
        form = QFormLayout()
        form.setContentsMargins(0, 0, 0, 0)
        form.addRow(Text("Heard with the dial at"), self.heard)
        form.addRow(Text(), self.here)
        form.addRow(Text("Its tone moves"), self.moves)
        form.addRow(Text("and goes"), self.direction)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(form)
        column.addWidget(self.sentence)
        column.addWidget(self.table, 1)
        self._shown: tuple[object, ...] = ()

    def refresh(self, bench: Workbench) -> None:
        """Show what the present design would make of what was heard on the band looked at."""
        band = bench.band
        heard = self._heard_hz.setdefault(band.name, bench.dial_hz)
        self.heard.set_value(heard)
        spurs, moves = bench.analysis.spurs(band.name), self.moves.currentData()
        direction = self.direction.currentData()
        state = (spurs, heard, moves, direction, band, palette.theme())
        if state == self._shown:
            return
        self._shown = state
        birdies = [spur for spur in spurs if spur.kind == "birdie"]
        found = candidates(birdies, band.low_hz, band.high_hz, heard, moves, direction)[:_MOST]
        self.table.show_rows(_HEADS, [_row(each) for each in found])
        self.table.setVisible(bool(found))
        told = moves is not None or direction is not None
        self.sentence.setText(_verdict(found, words.band(band.name), told))

    def forget(self) -> None:
        """Draw everything anew at the next refresh."""
        self._shown = ()

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


def _row(candidate: Candidate) -> tuple[str, ...]:
    spur = candidate.spur
    where = "nowhere on the dial"
    if spur.crosses:
        where = format_frequency(spur.dial_hz, 1000) if spur.moves else "all over the dial"
    return (
        spur.products,
        str(spur.order),
        where,
        signed(candidate.miss_hz / 1e3, 1, "kHz"),
        spur.level,
    )


def _verdict(found: tuple[Candidate, ...], band: str, told: bool) -> str:
    if not found:
        so = " that moves so" if told else ""
        return f"Nothing of the rig's own oscillators makes a tone on {band}{so}."
    best = found[0]
    if abs(best.miss_hz) > 10e3:
        return (
            "None of the rig's own products lies within 10 kHz of that; the tone may come from outside, or "
            "the IF and carrier differ from the design. The nearest are:"
        )
    return f"Probably {best.spur.products}: {best.spur.tone}. The levels are estimates."
