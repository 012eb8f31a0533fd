"""What a builder does to the window."""

from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtWidgets import QLineEdit


def menu_action(window, text):
    """The action of a menu whose text begins so."""
    actions = [action for menu in window.menuBar().actions() for action in menu.menu().actions()]
    return next(action for action in actions if action.text().startswith(text))


def type_if(window, qtbot, text):
    """Type an IF over the one that stands there; gives the field back."""
    field = window.frequency_bar.intermediate
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, text)
    return field


def open_field(table):
    """The field that is open in a table; one that was closed goes a little later."""
    (field,) = [each for each in table.findChildren(QLineEdit) if each.isVisible()]
    return field


def type_over(table, qtbot, text):
    """Type into the field that is open over what stands there, and take it with Return."""
    field = open_field(table)
    field.selectAll()
    qtbot.keyClicks(field, text)
    qtbot.keyClick(field, Qt.Key.Key_Return)
    # Qt takes the text once the key has been dealt with.
    QCoreApplication.processEvents()
