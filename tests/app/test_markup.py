"""What a name or note holds is shown as it is: in labels, tips, tables, plots, boxes, on paper."""

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QHelpEvent, QTextDocument
from PySide6.QtGui import Qt as Gui
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QApplication,
    QGraphicsTextItem,
    QGraphicsView,
    QLabel,
    QListView,
    QMessageBox,
    QToolTip,
    QWidget,
)

from app.pages.new_rig import NewRigDialog
from app.pictures.panels.frequency_bar import Tick
from app.sheet.pages import sheet_document
from app.state.dialogs import box
from app.state.recovery import Leftover
from app.state.workbench import Workbench
from app.style.plain import on_button, tip, title
from app.widgets.slider import FrequencySlider
from core.rig.bench import crystal_bench
from tests.bags import with_table

#: Sixteen characters, the most a band's name may have: an image file that Qt would open.
IMAGE = "<img src=/c.png>"
SLANTED = "<i>&x</i>"


def is_read_as_markup(text: str) -> bool:
    """Whether a sink that takes markup would take a name in this text for markup."""
    return Gui.mightBeRichText(text) and ("<img" in text or "<i>" in text)


@pytest.fixture(scope="module")
def marked(tern):
    """The sample with markup for every name, label and note."""
    project = tern.edited(("name",), f"{IMAGE}{SLANTED}").edited(("notes",), f"{IMAGE}\n{SLANTED}")
    project = project.edited(("bands", 0, "name"), IMAGE).edited(("bands", 1, "name"), SLANTED)
    for number, stage in enumerate(project.stages):
        project = project.edited(("stages", stage.id, "name"), f"{SLANTED}{IMAGE} {number}")
    head, *rows = crystal_bench.table_text(project.crystal_batch).splitlines()
    lines = [f"{IMAGE}{SLANTED}{row}" for row in rows]
    refused = f"{IMAGE}{SLANTED}{'; '.join(['0'] * head.count(';'))}"
    return with_table(project, "\n".join([head, refused, *lines]))


@pytest.fixture
def bench(qapp, marked):
    return Workbench(marked)


def crawl(top: QWidget) -> list[str]:
    """Every place under a widget where a name would be read as markup."""
    found = []
    for widget in (top, *top.findChildren(QWidget)):
        kind = type(widget).__name__
        for text in (widget.toolTip(), widget.statusTip(), widget.whatsThis()):
            if is_read_as_markup(text):
                found.append(f"tip of {kind}: {text}")
        if isinstance(widget, QLabel) and widget.textFormat() != Qt.TextFormat.PlainText:
            found.append(f"{kind} takes markup: {widget.text()}")
        if isinstance(widget, QAbstractButton) and "&x" in widget.text().replace("&&x", ""):
            found.append(f"{kind} loses an ampersand: {widget.text()}")
        if isinstance(widget, QAbstractItemView) and widget.model() is not None:
            found += _tips_of(widget)
        if isinstance(widget, FrequencySlider):
            found += [f"tip of a tick: {text}" for text in tips_along(widget) if is_read_as_markup(text)]
        if isinstance(widget, QGraphicsView) and widget.scene() is not None:
            for item in widget.scene().items():
                if isinstance(item, QGraphicsTextItem) and _images(item.document()):
                    found.append(f"image in a plot: {item.toPlainText()}")
        for action in widget.actions():
            if "&x" in action.text().replace("&&x", ""):
                found.append(f"entry loses an ampersand: {action.text()}")
    return found


def tips_along(slider: FrequencySlider) -> list[str]:
    """What is told where the pointer rests on each tick of a slider."""
    found = []
    for tick in slider.ticks:
        at = QPoint(round(slider._x(tick.hz)), slider.height() // 2)
        QApplication.sendEvent(slider, QHelpEvent(QHelpEvent.Type.ToolTip, at, slider.mapToGlobal(at)))
        found.append(QToolTip.text())
    return found


def _tips_of(view: QAbstractItemView) -> list[str]:
    model, role = view.model(), Qt.ItemDataRole.ToolTipRole
    rows, columns = model.rowCount(), _columns(view)
    tips = [model.index(r, c).data(role) for r in range(min(rows, 30)) for c in range(columns)]
    for way in (Qt.Orientation.Horizontal, Qt.Orientation.Vertical):
        tips += [model.headerData(n, way, role) for n in range(columns)]
    return [f"tip in {type(view).__name__}: {each}" for each in tips if each and is_read_as_markup(str(each))]


def _columns(view: QAbstractItemView) -> int:
    return 1 if isinstance(view, QListView) else view.model().columnCount()


def _images(document: QTextDocument) -> bool:
    return any(each.isImageFormat() for each in document.allFormats())


def test_no_name_is_markup_on_any_page(window, qtbot):
    bench = window.bench
    shown = set()
    selections = [(), ("vfo",), ("carrier",), *(("stages", stage.id) for stage in bench.current.stages)]
    for way in ("receive", "transmit"):
        bench.look_at_way(way)
        for band in (IMAGE, SLANTED):
            bench.look_at_band(band)
            for selection in selections if way == "receive" else [()]:
                bench.select(selection)
                window.pages.show_page("Stage" if selection else "Whole rig")
                window.refresher.now()
                assert crawl(window) == []
                shown |= {label.text() for label in window.findChildren(QLabel) if label.isVisible()}
    assert any(IMAGE in text for text in shown), "as it is"
    assert any(SLANTED in text for text in shown)


@pytest.mark.parametrize("page", ["IF survey", "Read-out", "Crystals", "Tolerance", "Build sheet"])
def test_no_name_is_markup_on_the_benchs_pages(window, qtbot, page):
    window.bench.hold()
    window.bench.edit(("if_hz",), 19.7e6)
    made = window.pages.show_page(page)
    window.refresher.now()
    if page == "IF survey":
        qtbot.waitUntil(lambda: made.table.row is not None)
    if page == "Crystals":
        tips = [made.table.item(row, 0).toolTip() for row in range(made.table.rowCount())]
        assert any("&lt;img" in tip or tip for tip in tips)
    assert crawl(window) == []


def test_tips_that_are_made_when_pointed_at_are_text(window, monkeypatch):
    said = set()
    # Marks of findings and ticks come when the hand rests.
    window.refresher.now()
    monkeypatch.setattr(QToolTip, "showText", lambda at, text, *_: said.add(text))
    for widget in (window.signal_path.strip.viewport(), window.frequency_bar.dial_slider):
        for x in range(0, widget.width(), 4):
            for y in range(4, widget.height(), 16):
                at = QPoint(x, y)
                event = QHelpEvent(QHelpEvent.Type.ToolTip, at, widget.mapToGlobal(at))
                QApplication.sendEvent(widget, event)
    assert any("&lt;img" in text for text in said)
    assert not any(is_read_as_markup(text) for text in said)


def test_boxes_and_dialogs_show_names_as_they_are(window, qtbot):
    question = box(window, IMAGE, IMAGE, f"{IMAGE}{SLANTED}")
    qtbot.addWidget(question)
    assert [label for label in question.findChildren(QLabel) if IMAGE in label.text()]
    assert crawl(question) == []
    dialog = NewRigDialog(window)
    qtbot.addWidget(dialog)
    assert crawl(dialog) == []


def test_a_recovered_file_is_named_as_it_is(window, tmp_path, monkeypatch):
    seen = []

    def exec(question):
        seen.extend(crawl(question))
        seen.append(question.informativeText())
        return 0

    monkeypatch.setattr(QMessageBox, "exec", exec)
    left = Leftover(tmp_path / "a.json", tmp_path / "<b>bold</b>.json")
    monkeypatch.setattr(Leftover, "load", lambda _: window.bench.current)

    class Lost:
        def leftovers(self):
            return (left,)

    window.documents.recover(Lost())
    assert len(seen) == 1
    assert "<b>bold</b>.json" in seen[0]


def test_names_on_paper_and_in_drawings_are_text(marked, qapp):
    text = sheet_document(marked, "A4", 72.0).text
    assert f"{IMAGE}{SLANTED}" in text
    for stage in marked.stages:
        if "filter" in stage.name or stage.id in ("ladder", "band_pass", "low_pass"):
            assert stage.name in text


def test_tips_captions_and_titles_keep_their_signs(qtbot):
    document = QTextDocument()
    document.setHtml(tip("<b>a</b> & b\nc"))
    assert document.toPlainText() == "<b>a</b> & b\nc"
    assert tip("") == ""
    assert on_button("20&12") == "20&&12"
    window = QWidget()
    qtbot.addWidget(window)
    window.setWindowTitle(f"{title('a[*]b')} [*]")
    window.setWindowModified(True)
    assert window.windowTitle() == "a[*][*]b [*]"


def test_what_a_tick_of_the_dial_says_is_text(window):
    slider = window.frequency_bar.dial_slider
    middle = (slider.low_hz + slider.high_hz) / 2
    said = f"<b>2 {SLANTED}</b> {IMAGE}"
    slider.show_ticks((Tick(middle, "fault", said),))
    (told,) = tips_along(slider)
    assert "&lt;b&gt;2 &lt;i&gt;" in told
    assert "&lt;img" in told
    assert not is_read_as_markup(told)
    document = QTextDocument()
    document.setHtml(told)
    assert document.toPlainText().replace("\u00a0", " ") == said
