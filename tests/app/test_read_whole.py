"""Every view of both samples can be read whole: no row is cut, no text lies on another or leaves its card."""

from pathlib import Path

import pytest
from PySide6.QtCore import QAbstractItemModel, QModelIndex, QRect, Qt
from PySide6.QtGui import QFont, QFontMetrics
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractScrollArea,
    QApplication,
    QComboBox,
    QLabel,
    QLineEdit,
    QListView,
    QScrollArea,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from app.commands.screens import views
from app.pages.crystal_table import CrystalTable
from app.panels.signal_path import SignalPath
from app.plots.base import Plot
from app.state.settings import Settings
from app.state.workbench import Workbench
from app.window.main_window import MainWindow
from core.model.files import load
from core.model.samples import sample_path

#: What an item's text keeps from the edges of its cell, on both sides together, pixels.
_MARGINS = 6
#: Rows of a long table that are looked at.
_ROWS = 12
#: An ordinary small screen, and 1440 x 900 at 150 %.
_SMALL, _ENLARGED = (1280, 720), (960, 600)


def cut_cells(view: QTableView) -> list[str]:
    """The cells and heads of a table whose text does not stand whole in them."""
    found = []
    model, metrics = view.model(), view.fontMetrics()
    bold = QFont(view.horizontalHeader().font())
    bold.setBold(True)
    for c in range(model.columnCount()):
        if view.isColumnHidden(c):
            continue
        head = str(model.headerData(c, Qt.Orientation.Horizontal) or "")
        wanted = QFontMetrics(bold).size(0, head)
        header = view.horizontalHeader()
        if wanted.width() > header.sectionSize(c) or wanted.height() > header.height():
            found.append(f"head {head}")
        for r in range(min(model.rowCount(), _ROWS)):
            # The terms end in dots: they stand whole below the table, and in the tooltip.
            if head == "terms and points":
                continue
            if view.model().index(r, c).data() and not _fits(view, model, r, c, metrics):
                found.append(str(model.index(r, c).data()))
    if view.horizontalScrollBar().maximum():
        found.append("scrolls sideways")
    return found


def _fits(view: QTableView, model: QAbstractItemModel, r: int, c: int, metrics: QFontMetrics) -> bool:
    index = model.index(r, c)
    rect = view.visualRect(index)
    if isinstance(view, CrystalTable):
        rect.setHeight(view.line)
        remark = view.remark_rect(r)
        whole = QRect(0, view.rowViewportPosition(r), view.viewport().width(), view.rowHeight(r))
        if not remark.isEmpty() and (not whole.contains(remark) or remark.intersects(rect)):
            return False
    room = QRect(0, 0, rect.width() - _MARGINS, 10000)
    flags = int(Qt.TextFlag.TextWordWrap) if view.wordWrap() else 0
    wanted = metrics.boundingRect(room, flags, str(index.data()))
    return wanted.width() <= room.width() and wanted.height() <= rect.height()


def cut_items(view: QListView) -> list[str]:
    """The items of a list that are not as high as they are drawn."""
    found = []
    for r in range(view.model().rowCount(QModelIndex())):
        index = view.model().index(r, 0)
        wanted = view.itemDelegate().sizeHint(QStyleOptionViewItem(), index).height()
        if view.visualRect(index).height() < wanted:
            found.append(str(index.data()))
    return found


def outside(widget: QWidget) -> bool:
    """Whether a widget reaches beyond what it stands in; where that scrolls, beyond its sides."""
    rect, part = widget.rect(), widget
    while not part.isWindow():
        parent = part.parentWidget()
        rect = rect.translated(part.pos())
        area = parent.parentWidget()
        if isinstance(area, QAbstractScrollArea) and area.viewport() is parent:
            if rect.left() < 0 or rect.right() > parent.width():
                return True
            rect = parent.rect()
        elif not parent.rect().adjusted(-1, -1, 1, 1).contains(rect):
            return True
        part = parent
    return False


def cut_text(widget: QWidget) -> bool:
    """Whether a label or button is too small for its text."""
    if isinstance(widget, QLabel):
        if widget.wordWrap():
            return widget.height() < widget.heightForWidth(widget.width())
        return widget.width() < widget.fontMetrics().size(0, widget.text()).width()
    if isinstance(widget, QComboBox):
        return widget.fontMetrics().horizontalAdvance(widget.currentText()) + 20 > widget.width()
    text = widget.text().replace("&&", "&")  # type: ignore[attr-defined]  # a button
    return widget.fontMetrics().horizontalAdvance(text) > widget.width()


def not_whole(window: MainWindow) -> list[str]:
    """What cannot be read whole in the window as it stands."""
    found = []
    shown = [each for each in window.findChildren(QWidget) if each.isVisibleTo(window)]
    texts = [each for each in shown if isinstance(each, QLabel | QAbstractButton | QComboBox | QLineEdit)]
    texts = [each for each in texts if not _within(each, (QAbstractItemView, QComboBox, Plot))]
    for each in texts:
        name = f"{type(each).__name__} {_text(each)!r}"
        if not _text(each):
            continue
        if outside(each):
            found.append(f"{name} is cut by what it stands in")
        if not isinstance(each, QLineEdit) and cut_text(each):
            found.append(f"{name} is too small: {each.size()}")
    for number, one in enumerate(texts):
        for other in texts[number + 1 :]:
            if one.parentWidget() is other.parentWidget() and one.geometry().intersects(other.geometry()):
                found.append(f"{_text(one)!r} lies over {_text(other)!r}")
    for each in shown:
        if isinstance(each, QAbstractItemView) and not _within(each, (QComboBox,)) and outside(each):
            found.append(f"{type(each).__name__} {each.accessibleName()} is cut by what it stands in")
        if isinstance(each, QTableView):
            found += [f"{each.accessibleName() or type(each).__name__}: {cell}" for cell in cut_cells(each)]
        elif isinstance(each, QListView) and not _within(each, (QComboBox,)):
            found += [f"list: {item}" for item in cut_items(each)]
        elif isinstance(each, QScrollArea) and each.horizontalScrollBar().maximum():
            if not _within(each, (SignalPath,)):
                found.append(f"{type(each).__name__} scrolls sideways: {each.accessibleName()}")
        elif isinstance(each, Plot):
            places = each.labels.places
            if any(a.intersects(b) for n, a in enumerate(places) for b in places[n + 1 :]):
                found.append(f"labels of {type(each).__name__} lie on each other")
    return found


def _text(widget: QWidget) -> str:
    return widget.currentText() if isinstance(widget, QComboBox) else widget.text()  # type: ignore[attr-defined]


def _within(widget: QWidget, kinds: tuple[type[QWidget], ...]) -> bool:
    parent = widget.parentWidget()
    while parent is not None:
        if isinstance(parent, kinds):
            return True
        parent = parent.parentWidget()
    return False


@pytest.mark.parametrize(("name", "theme"), [("tern-20-12", "light"), ("muddle-40-20", "dark")])
def test_every_view_can_be_read_whole(qtbot, qapp: QApplication, tmp_path: Path, name, theme):
    settings = Settings(tmp_path / "settings.ini")
    settings.theme = theme
    window = MainWindow(Workbench(load(sample_path(name))), settings)
    qtbot.addWidget(window)
    window.resize(*_SMALL)
    window.show()
    wrong: dict[str, list[str]] = {}
    for view in views(window):
        for size in (_SMALL, _ENLARGED):
            window.resize(*size)
            for _ in range(3):
                qapp.processEvents()
            assert window.size().toTuple() == size
            for line in not_whole(window):
                wrong.setdefault(line, []).append(f"{view} at {size}")
    assert wrong == {}, "\n".join(f"{line}  ({', '.join(where)})" for line, where in wrong.items())
