"""Names and notes come from files: wherever they are shown they are text and never markup."""

from html import escape

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QWidget


class Text(QLabel):
    """A label whose text is never read as markup. Every label of the program is one."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setText(text)


def tip(text: str) -> str:
    """A tooltip that shows exactly this text, broken into lines where it is long; empty for none."""
    return f"<p>{'<br>'.join(escape(line) for line in text.splitlines())}</p>" if text else ""


def on_button(text: str) -> str:
    """The text of a button or menu entry, in which `&` is no key's mark."""
    return text.replace("&", "&&")


def title(text: str) -> str:
    """The title of a window, in which `[*]` is no place for the mark of unsaved work."""
    return text.replace("[*]", "[*][*]")
