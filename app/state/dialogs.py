"""Dialogs that are asked and then gone."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QLabel, QMessageBox, QPushButton, QWidget

Icon = QMessageBox.Icon
Role = QMessageBox.ButtonRole


def asked(dialog: QDialog) -> int:
    """Run a dialog until it is answered. It goes afterwards: a window keeps the children it is given."""
    try:
        return dialog.exec()
    finally:
        dialog.deleteLater()


def box(parent: QWidget, title: str, text: str, more: str = "", icon: Icon = Icon.Question) -> QMessageBox:
    """A message box whose texts are never read as markup: names in them come from files."""
    made = QMessageBox(parent)
    made.setIcon(icon)
    made.setWindowTitle(title)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setText(text)
    made.setInformativeText(more)
    for label in made.findChildren(QLabel):
        # The informative text's own label is one of them, and `setTextFormat` leaves it out.
        label.setTextFormat(Qt.TextFormat.PlainText)
    return made


def choose(question: QMessageBox, answers: tuple[tuple[str, Role], ...], escape: str) -> str:
    """Ask with these buttons, the first the usual one; returns the text of the one pressed, or `escape`."""
    buttons: dict[str, QPushButton] = {text: question.addButton(text, role) for text, role in answers}
    question.setDefaultButton(buttons[answers[0][0]])
    question.setEscapeButton(buttons[escape])
    asked(question)
    pressed = question.clickedButton()
    return next((text for text, button in buttons.items() if button is pressed), escape)
