"""Tab goes through the window part by part; forms made later would otherwise come last of all."""

from collections.abc import Sequence

from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QScrollArea, QWidget


def next_stop(
    parts: Sequence[QWidget], current: QWidget | None, *, forward: bool, column: QWidget
) -> QWidget | None:
    """Where Tab, or Shift+Tab, goes from `current`; None when that is none of its stops.

    Inside a part it is Qt's own order, inside `column` downwards; behind its last stop comes the next part.
    """
    stops: list[QWidget] = []
    for part in parts:
        found = _stops(part)
        stops += sorted(found, key=lambda stop: _place(stop, column)) if part is column else found
    if current not in stops:
        return None
    return stops[(stops.index(current) + (1 if forward else -1)) % len(stops)]


def _stops(part: QWidget) -> list[QWidget]:
    """What Tab stops at in a part of the window; an area that scrolls only where nothing inside is a stop."""
    found: list[QWidget] = []
    widget = part.nextInFocusChain()
    while widget is not None and widget is not part:
        if part.isAncestorOf(widget) and _is_stop(widget):
            found.append(widget)
        widget = widget.nextInFocusChain()
    return [
        stop
        for stop in found
        if not (isinstance(stop, QScrollArea) and any(stop.isAncestorOf(each) for each in found))
    ]


def _is_stop(widget: QWidget) -> bool:
    tab = Qt.FocusPolicy.TabFocus
    stops = widget.focusPolicy() & tab == tab and widget.focusProxy() is None
    return stops and widget.isEnabled() and widget.isVisible()


def _place(widget: QWidget, part: QWidget) -> tuple[int, int]:
    corner = widget.mapTo(part, QPoint())
    return corner.y(), corner.x()
