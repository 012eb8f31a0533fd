"""Tab goes through the window part by part, and through each part as one reads it.

Qt's own chain of focus is not asked: PySide takes what `nextInFocusChain` and `focusProxy` return for a child
of the widget that was asked. Python's side of the window then hung on its last field and that of a plot on
its own viewport, and both stayed with all their menus when the window was closed.
"""

from collections.abc import Sequence
from functools import cmp_to_key

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractScrollArea, QScrollArea, QWidget


def next_stop(parts: Sequence[QWidget], current: QWidget | None, *, forward: bool) -> QWidget | None:
    """Where Tab, or Shift+Tab, goes from `current`; None when that is none of its stops."""
    all_stops = [stop for part in parts for stop in stops(part)]
    if current not in all_stops:
        return None
    return all_stops[(all_stops.index(current) + (1 if forward else -1)) % len(all_stops)]


def next_part(parts: Sequence[tuple[QWidget, QWidget | None]], current: QWidget | None) -> None:
    """Send the focus to the next of some parts, each with the widget in it that takes it, or None for its
    first stop.
    """
    here = next((n for n, (part, _) in enumerate(parts) if current and part.isAncestorOf(current)), -1)
    part, target = parts[(here + 1) % len(parts)]
    (target or next(iter(stops(part)), part)).setFocus(Qt.FocusReason.TabFocusReason)


def stops(part: QWidget) -> list[QWidget]:
    """What Tab stops at in a part of the window, in the order of reading; an area that scrolls only where
    nothing inside is a stop.
    """
    found: list[QWidget] = []
    inner = [
        each
        for each in part.children()
        if isinstance(each, QWidget) and each.isVisible() and not each.isWindow()
    ]
    for widget in sorted(inner, key=cmp_to_key(_reading)):
        inside = stops(widget)
        if _is_stop(widget) and not (inside and isinstance(widget, QScrollArea)):
            found.append(widget)
        found += inside
    return found


def _is_stop(widget: QWidget) -> bool:
    area = widget.parent()
    if isinstance(area, QAbstractScrollArea) and widget is area.viewport():
        return False  # What has the focus there is the area.
    tab = Qt.FocusPolicy.TabFocus
    return widget.focusPolicy() & tab == tab and widget.isEnabled()


def _reading(one: QWidget, other: QWidget) -> int:
    """Below zero when `one` is read before its neighbour: it ends above it, or lies left of it."""
    a, b = one.geometry(), other.geometry()
    if a.bottom() < b.top() or b.bottom() < a.top():
        return a.top() - b.top()
    return a.left() - b.left()
