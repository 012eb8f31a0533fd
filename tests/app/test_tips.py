"""Every figure and every table's head on screen tells what it is when pointed at."""

import re
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QHelpEvent
from PySide6.QtWidgets import QAbstractButton, QApplication, QLabel, QTableView, QToolTip, QWidget

from app.commands.screens import views
from app.panels.signal_path import SignalPath
from app.state.settings import Settings
from app.state.workbench import Workbench
from app.style.plain import tip
from app.window.main_window import MainWindow
from core.model.files import load
from core.model.samples import sample_path
from core.rig.figures.levels import LEVEL, S9_LEVEL

#: A number, with its unit behind it or not, and a text that is nothing else.
_NUMBER = re.compile(r"(?<![\w.])[+−-]?\d")
_FIGURE = re.compile(r"[+−-]?\d[\d.\u202f]*(\s\w+)?")


def untold_in(table: QTableView) -> list[str]:
    """The heads and cells of a table that tell nothing when pointed at."""
    found, model = [], table.model()
    role = Qt.ItemDataRole.ToolTipRole
    for c in range(model.columnCount()):
        if table.isColumnHidden(c):
            continue
        cells = [model.index(r, c) for r in range(model.rowCount())]
        mute = [str(each.data()) for each in cells if each.data() and not each.data(role)]
        head = model.headerData(c, Qt.Orientation.Horizontal)
        if mute and not model.headerData(c, Qt.Orientation.Horizontal, role):
            found += [f"head {head!r}", *mute]
        found += [text for text in mute if _NUMBER.search(text)]
    return found


def told(widget: QWidget) -> bool:
    """Whether anything is told of a widget: a tip of what it stands in is shown for it too."""
    part: QWidget | None = widget
    while part is not None and not part.isWindow():
        if part.toolTip():
            return True
        part = part.parentWidget()
    return False


def untold(window: MainWindow) -> list[str]:
    found = []
    for each in window.findChildren(QWidget):
        if not each.isVisibleTo(window):
            continue
        if isinstance(each, QTableView):
            name = each.accessibleName() or type(each).__name__
            found += [f"{name}: {line}" for line in untold_in(each)]
        elif isinstance(each, QLabel | QAbstractButton) and _FIGURE.fullmatch(each.text()) and not told(each):
            found.append(f"{type(each).__name__} {each.text()}")
    return found


@pytest.mark.parametrize(("way", "figure"), [("receive", S9_LEVEL), ("transmit", LEVEL)])
def test_the_levels_between_the_islands_tell_what_they_are(window, way, figure):
    window.bench.look_at_way(way)
    window.refresher.now()
    strip = window.findChild(SignalPath).strip
    shown, geometry = strip.shown, strip.geometry_of_strip
    assert len(geometry.levels) == len(shown.levels) > 5
    for place, text in zip(geometry.levels[:4], shown.levels, strict=False):
        assert float(text.removesuffix(" dBm").replace("−", "-")) < 100
        QToolTip.hideText()
        at = place.center().toPoint()
        QApplication.sendEvent(
            strip.viewport(), QHelpEvent(QEvent.Type.ToolTip, at, strip.viewport().mapToGlobal(at))
        )
        assert QToolTip.text() == tip(figure.tip)


@pytest.mark.parametrize("name", ["tern-20-12", "muddle-40-20"])
def test_every_figure_on_screen_tells_what_it_is(qtbot, tmp_path: Path, name):
    window = MainWindow(Workbench(load(sample_path(name))), Settings(tmp_path / "settings.ini"))
    qtbot.addWidget(window)
    window.resize(1440, 900)
    window.show()
    wrong: dict[str, list[str]] = {}
    for view in views(window):
        for line in untold(window):
            wrong.setdefault(line, []).append(view)
    assert wrong == {}, "\n".join(f"{line}  ({', '.join(where)})" for line, where in wrong.items())
