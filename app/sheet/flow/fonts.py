"""Text in points: its looks, its width, and how it breaks into lines."""

from collections.abc import Sequence
from functools import lru_cache

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QTextCharFormat, QTextLayout, QTextOption

from app.sheet.content.blocks import NEW_LINE, Look, Run

INK, SOFT, COPPER, RULE = "#1d1a17", "#6a6055", "#8a4f1c", "#b9ab97"
#: Sizes of letters, points: of words, in tables, of headings by level.
TEXT, CELL = 8.2, 7.4
HEADINGS = {1: 17.0, 2: 11.5, 3: 8.8}
#: From line to line over the size of the letters.
_LEADING = 1.26
#: Letters are measured and drawn at so many times their size, as a font has whole pixels only.
_FINE = 10


@lru_cache(maxsize=32)
def font(size: float, bold: bool = False) -> QFont:
    """The sheet's font, `_FINE` times as large, without hinting: its widths are those on any device."""
    found = QFont("sans-serif")
    found.setPixelSize(round(_FINE * size))
    found.setBold(bold)
    found.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    return found


@lru_cache(maxsize=32)
def _metrics(size: float, bold: bool) -> QFontMetricsF:
    return QFontMetricsF(font(size, bold))


@lru_cache(maxsize=8192)
def wide(text: str, size: float, bold: bool = False) -> float:
    """Width of a text, points; of several lines that of the widest."""
    return max(_metrics(size, bold).horizontalAdvance(line) for line in text.split(NEW_LINE)) / _FINE


def widest_word(text: str, size: float, bold: bool = False) -> float:
    """Width of the longest of its words, points."""
    return max(wide(word, size, bold) for word in text.split(" "))


def line_height(size: float) -> float:
    """From line to line, points."""
    return _LEADING * size


class Laid:
    """Words of one size broken into the lines of a column `width` points wide; a word that is longer than a
    line is broken too.
    """

    def __init__(
        self,
        runs: Sequence[Run],
        size: float,
        width: float,
        *,
        copper: bool = False,
        right: bool = False,
    ) -> None:
        self.text = "".join(run.text for run in runs)
        self._size = size
        text = broken(runs, size, width)
        self._layout = QTextLayout(text, font(size))
        option = QTextOption()
        option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
        if right:
            option.setAlignment(Qt.AlignmentFlag.AlignRight)
        self._layout.setTextOption(option)
        self._layout.setFormats(_formats(runs, size, copper))
        self.lines: list[str] = []
        self._layout.beginLayout()
        while (line := self._layout.createLine()).isValid():
            line.setLineWidth(_FINE * width)
            line.setPosition(QPointF(0, _FINE * line_height(size) * len(self.lines)))
            self.lines.append(text[line.textStart() : line.textStart() + line.textLength()])
        self._layout.endLayout()
        self.width = self._layout.boundingRect().width() / _FINE

    @property
    def height(self) -> float:
        """Height of all lines, points."""
        return line_height(self._size) * max(len(self.lines), 1)

    def paint(self, painter: QPainter, x: float, y: float) -> None:
        """Draw with the upper left corner at a place in points."""
        painter.save()
        painter.translate(x, y)
        painter.scale(1 / _FINE, 1 / _FINE)
        self._layout.draw(painter, QPointF())
        painter.restore()


def broken(runs: Sequence[Run], size: float, width: float) -> str:
    """The text with line breaks in the places of spaces: Qt would break behind slashes and dashes too. A word
    that is longer than a line is left to Qt.
    """
    lines, at, words = [""], 0.0, [("", 0.0)]
    for run in runs:
        for n, part in enumerate(run.text.split(" ")):
            if n:
                words.append(("", 0.0))
            word, across = words[-1]
            words[-1] = (word + part, across + wide(part, size, is_bold(run.look)))
    space = wide(" ", size)
    for n, (word, across) in enumerate(words):
        if n == 0:
            lines[-1], at = word, across
        elif at + space + (wide(word.partition(NEW_LINE)[0], size) if NEW_LINE in word else across) <= width:
            lines[-1], at = f"{lines[-1]} {word}", at + space + across
        else:
            lines.append(word)
            at = across
        if NEW_LINE in word:
            at = wide(word.rpartition(NEW_LINE)[2], size)
    return NEW_LINE.join(lines)


def _formats(runs: Sequence[Run], size: float, copper: bool) -> list[QTextLayout.FormatRange]:
    found, at = [], 0
    for run in runs:
        look = QTextLayout.FormatRange()
        shape = QTextCharFormat()
        shape.setFont(font(size, is_bold(run.look)))
        shape.setForeground(QColor(COPPER if copper else colour(run.look)))
        # Qt counts in units of UTF-16.
        length = len(run.text.encode("utf-16-le")) // 2
        look.start, look.length, look.format = at, length, shape
        found.append(look)
        at += length
    return found


def is_bold(look: Look) -> bool:
    """Whether words of a look are bold."""
    return look in ("strong", "head")


def colour(look: Look) -> str:
    """What a look is written in; what is soft is paler, and nothing is told by it alone."""
    return SOFT if look == "soft" else INK


def put(painter: QPainter, text: str, x: float, y: float, size: float, look: Look = "plain") -> None:
    """Draw a text in one line with its upper left corner at a place in points."""
    painter.save()
    painter.translate(x, y)
    painter.scale(1 / _FINE, 1 / _FINE)
    painter.setFont(font(size, is_bold(look)))
    painter.setPen(QColor(colour(look)))
    # The letters stand in the middle of their line.
    shift = (_FINE * line_height(size) - _metrics(size, False).height()) / 2
    painter.drawText(QPointF(0, shift + _metrics(size, False).ascent()), text)
    painter.restore()
