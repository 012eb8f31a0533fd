"""How the columns of a table share its width by what stands in them."""

from collections.abc import Sequence

from PySide6.QtGui import QFontMetrics

#: Beside a text in its cell, pixels.
_PADDING = 7


def shared(natural: Sequence[int], least: Sequence[int], room: int, *, even: bool) -> list[int]:
    """The widths of columns that want `natural` and need `least` each, in so much `room`, all in pixels.

    What is left goes to all of them, or to the last; what lacks is taken where texts can be broken, in
    proportion to what they could give. More than `room` only where not even the least widths fit.

    >>> shared([40, 60], [40, 60], 120, even=True), shared([40, 60], [40, 60], 120, even=False)
    ([50, 70], [40, 80])
    >>> shared([40, 300], [40, 80], 140, even=True), shared([40, 300], [40, 80], 100, even=True)
    ([40, 100], [40, 80])
    """
    left = room - sum(natural)
    if left >= 0:
        extra = [left // len(natural)] * len(natural) if even else [0] * len(natural)
        extra[-1] += left - sum(extra)
        return [wanted + more for wanted, more in zip(natural, extra, strict=True)]
    free = max(room - sum(least), 0)
    could = [wanted - needed for wanted, needed in zip(natural, least, strict=True)]
    return [
        needed + (free * give // sum(could) if give else 0) for needed, give in zip(least, could, strict=True)
    ]


def width(text: str, metrics: QFontMetrics) -> int:
    """The width of a column in which a text stands on one line, pixels."""
    return metrics.horizontalAdvance(text) + _PADDING


def least_width(text: str, metrics: QFontMetrics, short: int) -> int:
    """How narrow a text's column may get: a text of up to `short` letters stays whole, others are broken."""
    if len(text) <= short:
        return width(text, metrics)
    return max(width(word, metrics) for word in text.split(" "))


def broken(text: str, metrics: QFontMetrics, room: int) -> str:
    """A head in as many lines as its column's width asks for."""
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else ""
        if longer and width(longer, metrics) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return "\n".join(lines)
