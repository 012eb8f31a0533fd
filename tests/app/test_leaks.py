"""What is closed is gone: dialogs and questions leave no widget behind."""

import gc

from PySide6.QtCore import QCoreApplication, QEvent, QTimer
from PySide6.QtWidgets import QApplication, QDialog, QMessageBox

from app.state.recovery import Recovery
from app.state.workbench import Workbench


def menu_action(window, text):
    actions = [action for menu in window.menuBar().actions() for action in menu.menu().actions()]
    return next(action for action in actions if action.text().startswith(text))


def close_soon(kind: type[QDialog]) -> None:
    """Close the dialog of a kind that is about to open, as Escape does."""

    def look() -> None:
        for dialog in QApplication.topLevelWidgets():
            if isinstance(dialog, kind) and dialog.isVisible():
                return dialog.reject()
        QTimer.singleShot(10, look)

    QTimer.singleShot(10, look)


def widgets() -> int:
    """How many widgets there are once what was to be deleted is gone."""
    for _ in range(3):
        QApplication.processEvents()
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.collect()
    return len(QApplication.allWidgets())


def times(count, act):
    """Widgets after `act` was done once, and after it was done `count` times more."""
    act()
    before = widgets()
    for _ in range(count):
        act()
    return before, widgets()


def test_the_new_rig_dialog_leaves_nothing(window):
    def act():
        close_soon(QDialog)
        menu_action(window, "New rig…").trigger()

    before, after = times(5, act)
    # Fewer is no leak: what another test left may go only now.
    assert after <= before


def test_questions_leave_nothing(window, bench, tmp_path):
    bench.edit(("if_hz",), 9e6)

    def ask():
        close_soon(QMessageBox)
        assert not window.documents.may_leave()

    def say():
        close_soon(QMessageBox)
        window.documents.say("Title", "A sentence.")

    def offer():
        lost = Workbench(bench.current)
        session = Recovery(lost, tmp_path)
        lost.edit(("name",), "Lost")
        session.write()
        session._lock.unlock()
        close_soon(QMessageBox)
        window.documents.recover(Recovery(bench, tmp_path))
        for file in tmp_path.iterdir():
            file.unlink()

    for act in (ask, say, offer):
        before, after = times(5, act)
        assert after <= before, act.__name__


def test_help_leaves_nothing(window, qtbot):
    def open_ones():
        return [w for w in QApplication.topLevelWidgets() if isinstance(w, QDialog) and w.isVisible()]

    def act():
        menu_action(window, "Keys and numbers").trigger()
        (dialog,) = open_ones()
        # Not modal: it is closed like any window, and gone only after that.
        with qtbot.waitSignal(dialog.destroyed):
            dialog.reject()

    before, after = times(3, act)
    # Fewer is no leak: what another test left may go only now.
    assert after <= before
