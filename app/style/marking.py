"""How a field says that its input is wrong."""

from html import escape

from PySide6.QtWidgets import QWidget


def show_reason(field: QWidget, reason: str, help: str) -> None:
    """Mark `field` wrong because of `reason`, or right again when it is empty; `help` is its tooltip."""
    field.setToolTip(f"<p><b>{escape(reason)}</b></p>{help}" if reason else help)
    field.setProperty("wrong", bool(reason))
    field.style().unpolish(field)
    field.style().polish(field)
