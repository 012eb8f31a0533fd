"""How a field says that its input is wrong, and how a property that a style asks for is set."""

from html import escape

from PySide6.QtWidgets import QWidget


def show_reason(field: QWidget, reason: str, help: str) -> None:
    """Mark `field` wrong because of `reason`, or right again when it is empty; `help` is its tooltip."""
    field.setToolTip(f"<p><b>{escape(reason)}</b></p>{help}" if reason else help)
    mark(field, "wrong", bool(reason))


def mark(widget: QWidget, name: str, value: object) -> None:
    """Set a property that the style asks for, and show it; Qt looks at it only when it polishes anew."""
    widget.setProperty(name, value)
    widget.style().unpolish(widget)
    widget.style().polish(widget)
    # Not every widget paints itself again for that.
    widget.update()
