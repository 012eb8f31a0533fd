"""Keys, focus and what stays in its place, as a hand at the keyboard meets them."""

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QCheckBox, QDialog, QTextBrowser

from app.pages.new_rig import NewRigDialog
from app.panels.forms import Form
from app.pictures.figures import Label
from app.pictures.panels.parts import AS_BUILT
from app.plots.base import Plot
from app.stage_views.cards.schematic_view import SchematicView
from app.style import palette
from app.widgets.number_field import NumberField
from app.widgets.reason_line import ReasonLine
from app.window.help import keys_page
from app.window.main_window import MainWindow
from core.model.project import Project
from core.model.values.part_names import spelled


@pytest.fixture
def window(qtbot, bench, settings):
    """The window in the size that it takes at the first start."""
    made = MainWindow(bench, settings)
    qtbot.addWidget(made, before_close_func=lambda _: bench.start(bench.current))
    made.show()
    made.activateWindow()
    qtbot.waitExposed(made)
    made.refresher.now()
    return made


def test_stage_keys_live_after_the_stage_menu_was_looked_into(window, bench, qtbot):
    menu = next(a.menu() for a in window.menuBar().actions() if a.text() == "&Stage")
    menu.aboutToShow.emit()
    strip = window.signal_path.strip
    strip.setFocus()
    count = len(bench.current.stages)
    bench.select(("stages", "rf_stage"))
    qtbot.keyClick(strip, Qt.Key.Key_D, Qt.KeyboardModifier.ControlModifier)
    assert len(bench.current.stages) == count + 1
    qtbot.keyClick(strip, Qt.Key.Key_Space)
    assert not bench.selected_stage.in_path
    qtbot.keyClick(strip, Qt.Key.Key_Delete)
    assert len(bench.current.stages) == count
    bench.select(())
    assert not strip.actions_by_name["remove"].isEnabled()


def test_tab_leaves_every_table(window, bench, qtbot):
    page = window.pages.show_page("Read-out")
    bench.edit(("read_out",), {})
    window.refresher.now()
    page.others.setFocus()
    page.others.setCurrentCell(0, 0)
    qtbot.keyClick(page.others, Qt.Key.Key_Tab)
    assert QApplication.focusWidget() is not page.others


def test_tab_goes_from_the_bars_sliders_to_the_bands_and_the_directions(window, bench, qtbot):
    bar, seen = window.frequency_bar, []
    bar.if_slider.setFocus()
    for _ in range(3):
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
        seen.append(QApplication.focusWidget())
    # Of buttons of which one is pressed Tab stops at that one; arrow keys go to the others.
    assert [each.text() for each in seen] == ["20\u00a0m", "Receive", "Hold"]


@pytest.mark.parametrize("key", [Qt.Key.Key_Tab, Qt.Key.Key_Return])
def test_as_built_values_are_typed_one_below_the_other(window, bench, qtbot, key):
    bench.select(("stages", "ladder"))
    window.refresher.now()
    table = window.editor.parts.table
    cells = [table.model().index(row, AS_BUILT) for row in range(table.model().rowCount())]
    *_, first, last = [cell for cell in cells if cell.flags() & Qt.ItemFlag.ItemIsEditable]
    refs = [cell.siblingAtColumn(0).data() for cell in (first, last)]
    values = [cell.siblingAtColumn(2).data() for cell in (first, last)]
    table.setCurrentIndex(first)
    table.edit(first)
    for value in values:
        editor = next(w for w in table.findChildren(NumberField) if w.isVisible())
        qtbot.keyClicks(editor, value)
        qtbot.keyClick(editor, key)
    built = dict(bench.current.stage("ladder").as_built)
    assert {spelled("ladder", key) for key in built} == set(refs)
    assert not any(w.isVisible() for w in table.findChildren(NumberField))
    if key == Qt.Key.Key_Tab:
        assert QApplication.focusWidget() is not table


def test_nothing_moves_when_the_first_band_is_ticked(qtbot, qapp):
    dialog = NewRigDialog()
    qtbot.addWidget(dialog)
    dialog.show()
    qtbot.waitExposed(dialog)
    before = [choice.box.mapTo(dialog, QPoint()) for choice in dialog.choices]
    dialog.choices[3].box.click()
    QApplication.processEvents()
    assert [choice.box.mapTo(dialog, QPoint()) for choice in dialog.choices] == before


def test_a_reason_moves_no_field(window, bench, qtbot):
    bench.select(("stages", "ladder"))
    window.refresher.now()
    QApplication.processEvents()
    fields = [w for w in window.editor.form.findChildren(NumberField) if w.isVisible()]
    before = [field.mapTo(window, QPoint()) for field in fields]
    poles = window.editor.form.field_at(("poles",))
    poles.setFocus()
    poles.selectAll()
    qtbot.keyClicks(poles, "40")
    qtbot.keyClick(poles, Qt.Key.Key_Return)
    QApplication.processEvents()
    line = next(each for each in window.editor.findChildren(ReasonLine) if each.isVisible())
    assert "must be at most" in line.text()
    assert [field.mapTo(window, QPoint()) for field in fields] == before
    qtbot.keyClick(poles, Qt.Key.Key_Escape)
    assert not line.isVisible()


def test_the_frequency_bar_tells_its_reason_without_the_mouse(window, qtbot):
    dial = window.frequency_bar.dial
    dial.setFocus()
    dial.selectAll()
    qtbot.keyClicks(dial, "15 MHz")
    qtbot.keyClick(dial, Qt.Key.Key_Return)
    line = window.frequency_bar.reason
    assert line.isVisible()
    assert line.text().startswith("The dial on 20\u00a0m goes from")
    assert window.rect().contains(line.geometry())
    qtbot.keyClick(dial, Qt.Key.Key_Escape)
    assert not line.isVisible()


def test_escape_and_undo_bring_a_refused_text_back(qtbot, bench):
    form = Form(Project, bench)
    qtbot.addWidget(form)
    form.show()
    form.show_model(bench.current, ())
    name = form.field_at(("bands", 0, "name"))
    for restore in (
        lambda: qtbot.keyClick(name, Qt.Key.Key_Escape),
        lambda: (bench.edit(("bands", 0, "sideband"), "lower"), form.show_model(bench.current, ())),
    ):
        name.setFocus()
        name.selectAll()
        qtbot.keyClicks(name, "12m")
        qtbot.keyClick(name, Qt.Key.Key_Return)
        assert name.property("wrong") is True
        restore()
        assert name.text() == "20\u00a0m"
        assert name.property("wrong") is False


def test_the_window_leaves_room_for_its_frame_at_the_first_start(window):
    available = window.screen().availableSize()
    assert window.height() + 24 <= available.height()
    assert window.statusBar().isVisible()


def test_an_unticked_box_is_seen_in_both_themes(qtbot, qapp):
    """The frame differs from the ground by at least 3 to 1, as WCAG 2.2 asks of controls (1.4.11)."""
    box = QCheckBox("a box")
    qtbot.addWidget(box)
    box.show()
    for theme in ("light", "dark"):
        palette.apply(qapp, theme)
        image = box.grab().toImage()
        ground = palette.color("paper")
        ratios = [contrast(image.pixelColor(x, image.height() // 2), ground) for x in range(8)]
        assert max(ratios) >= 3
    palette.apply(qapp, "light")


def contrast(one, other):
    """Contrast ratio of two colours by WCAG's relative luminance."""

    def luminance(color):
        parts = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in color.getRgbF()[:3]]
        return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]

    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def turned(view, up, modifiers=Qt.KeyboardModifier.NoModifier):
    at = QPointF(view.width() / 4, view.height() / 2)
    event = QWheelEvent(
        at,
        view.mapToGlobal(at),
        QPoint(),
        QPoint(0, 120 if up else -120),
        Qt.MouseButton.NoButton,
        modifiers,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(view, event)
    return event


def test_a_schematic_is_enlarged_by_wheel_and_keys_and_opened_by_a_double_click(qtbot, bench):
    view = SchematicView()
    qtbot.addWidget(view)
    view.resize(500, 200)
    view.show()
    view.activateWindow()
    qtbot.waitExposed(view)
    view.show_circuit(bench.analysis.filter_design("ladder", "20m").network)
    view.grab()
    view.clearFocus()
    assert not turned(view, up=True).isAccepted()
    assert view.zoom == 1
    under = QPointF(view.width() / 4, view.height() / 2)
    before = view.drawn_rect()
    turned(view, up=True, modifiers=Qt.KeyboardModifier.ControlModifier)
    after = view.drawn_rect()
    assert view.zoom == 1.25
    assert after.width() == pytest.approx(1.25 * before.width())
    share = (under.x() - before.left()) / before.width()
    assert after.left() + share * after.width() == pytest.approx(under.x())
    view.setFocus()
    qtbot.waitUntil(view.hasFocus)
    assert turned(view, up=True).isAccepted()
    qtbot.keyClick(view, Qt.Key.Key_0)
    assert view.zoom == 1
    qtbot.keyClick(view, Qt.Key.Key_Plus)
    assert view.zoom > 1
    qtbot.mouseDClick(view, Qt.MouseButton.LeftButton)
    opened = view.window().findChild(QDialog)
    assert opened.findChild(SchematicView).circuit is view.circuit
    opened.close()


def test_a_schematic_too_small_to_read_has_a_button_that_opens_it_large_enough(qtbot, bench):
    view = SchematicView()
    qtbot.addWidget(view)
    view.resize(250, 110)
    view.show()
    qtbot.waitExposed(view)
    view.show_circuit(bench.analysis.filter_design("ladder", "20m").network)
    view.grab()
    assert view.opener.isVisible()
    # Nothing is drawn below the button.
    assert not view.drawn_rect().intersects(QRectF(view.opener.geometry()))
    qtbot.mouseClick(view.opener, Qt.MouseButton.LeftButton)
    opened = view.window().findChild(QDialog)
    opened.resize(300, 200)
    large = opened.findChild(SchematicView)
    large.read()
    assert not large.opener.isVisible()
    own = large._renderer.defaultSize()
    # As large as it is drawn for, from its upper edge on.
    assert large.drawn_rect().width() == pytest.approx(own.width(), rel=1e-3)
    opened.close()
    view.resize(own)
    view.grab()
    assert not view.opener.isVisible()


def test_help_counts_the_pages_that_there_are(window):
    action = next(a for a in window.findChildren(type(window.undo)) if a.text() == "Keys and numbers")
    action.trigger()
    dialog = window.findChild(QDialog)
    assert (
        f"Alt+1 … Alt+{min(window.pages.tabs.count(), 10) % 10}"
        in dialog.findChild(QTextBrowser).toPlainText()
    )
    dialog.close()


def test_help_tells_the_keys_of_boards_and_schematics(window):
    told = keys_page("Alt+0")
    board = told.partition("On a board or a panel")[2].partition("On a schematic")[0]
    for words in ("half a millimetre", "turn it", "pick another one", "placed again", "amid a drag, back"):
        assert words in board
    assert "window of its own" in told.partition("On a schematic")[2]


def test_labels_keep_off_straight_pieces_of_a_curve_too(qtbot):
    plot = Plot("x", "", "y", "")
    qtbot.addWidget(plot)
    plot.resize(400, 300)
    plot.show()
    line = plot.curve("curve")
    plot.labels.clear_of = (line,)
    line.setData(np.array([0.0, 10.0]), np.array([0.0, 10.0]))
    plot.frame((0, 10), (0, 10), "line")
    plot.labels.show([Label(5, 5, "a long name", "soft", side="above_right")])
    (place,) = plot.labels.places
    area = plot.box.rect()
    x = np.linspace(place.left() + 1, place.right() - 1, 50)
    y = area.height() * (1 - x / area.width())
    assert not ((y > place.top()) & (y < place.bottom())).any()


def test_tab_stops_at_what_can_only_be_scrolled(window, qtbot):
    window.resize(1280, 720)
    page = window.pages.show_page("Tolerance")
    window.refresher.now()
    page.start.setFocus()
    qtbot.keyClick(page.start, Qt.Key.Key_Tab)
    area = QApplication.focusWidget()
    assert area.accessibleName() == "What scattered parts make of it"
    qtbot.keyClick(area, Qt.Key.Key_Down)
    assert area.verticalScrollBar().value() > 0
    qtbot.keyClick(area, Qt.Key.Key_Backtab)
    assert page.start.hasFocus()


def test_tab_goes_through_the_window_in_the_order_of_reading_and_back(window, bench, qtbot):
    window.pages.show_page("Read-out")
    bench.select(("stages", "ladder"))
    window.refresher.now()
    bar = window.frequency_bar
    parts = (bar, window.signal_path, window.editor, window.pages, window.findings)
    bar.dial.setFocus()
    seen = [QApplication.focusWidget()]
    for _ in range(200):
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
        if QApplication.focusWidget() is bar.dial:
            break
        seen.append(QApplication.focusWidget())
    assert QApplication.focusWidget() is bar.dial, "Tab comes round"
    where = [next(n for n, part in enumerate(parts) if part.isAncestorOf(each)) for each in seen]
    assert where == sorted(where)
    names = [each.accessibleName() for each in seen]
    # A form that was made a moment ago stands where it is seen, and its parts table below it.
    assert names.index("Poles") < names.index("Parts: designed, preferred, as built") < names.index("Pages")
    assert names.index("Pages") < names.index("Counts from") < names.index("Findings, worst first")
    qtbot.keyClick(bar.dial, Qt.Key.Key_Backtab)
    assert QApplication.focusWidget() is seen[-1]
