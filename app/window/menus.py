"""How menus are made from rows: a command with its keys, a line between, or a menu of its own.

A command of a menu: a `Row` (text, function, keys) in `MainWindow._build_menus`; a file or a dialog that it
needs is imported inside the function, as in `app/window/outputs.py`. A menu that is filled when it opens is
`menus.live`.
"""

from collections.abc import Callable
from functools import partial
from typing import Any, NamedTuple

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QWidget


class Row(NamedTuple):
    """A command of a menu."""

    text: str
    run: Callable[[], object]
    keys: tuple[str, ...] = ()


#: A line between commands.
LINE = None


def fill(menu: QMenu, owner: QWidget, *rows: Row | QMenu | None) -> list[QAction]:
    """Put rows at the end of a menu, in that order; returns the actions of its commands. `owner` is the
    window in which the keys work.
    """
    made = []
    for row in rows:
        if isinstance(row, Row):
            made.append(_action(owner, row))
            menu.addAction(made[-1])
        elif isinstance(row, QMenu):
            menu.addMenu(row)
        else:
            menu.addSeparator()
    return made


def choices(
    text: str, owner: QWidget, names: dict[Any, str], chosen: object, choose: Callable[[Any], object]
) -> QMenu:
    """A menu of choices of which one is ticked: of each the value and its name."""
    menu, group = QMenu(text, owner), QActionGroup(owner)
    rows = [Row(name, partial(choose, value)) for value, name in names.items()]
    for value, action in zip(names, fill(menu, owner, *rows), strict=True):
        action.setCheckable(True)
        action.setChecked(value == chosen)
        group.addAction(action)
    return menu


def live(text: str, owner: QWidget, rows: Callable[[], list[Row]], without: Callable[[], str]) -> QMenu:
    """A menu that is filled anew whenever it opens; with no rows it shows a sentence that says why."""
    # The owner's own: the wrapper of a menu that another menu made can be taken away.
    menu = QMenu(text, owner)

    def opened() -> None:
        menu.clear()
        present = rows()
        for row in present:
            menu.addAction(row.text, row.run)
        if not present:
            menu.addAction(without()).setEnabled(False)

    menu.aboutToShow.connect(opened)
    return menu


def _action(owner: QWidget, row: Row) -> QAction:
    action = QAction(row.text, owner)
    action.setShortcuts([QKeySequence(each) for each in row.keys])
    action.triggered.connect(lambda: row.run())
    return action
