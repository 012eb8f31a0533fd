"""Why a field is wrong, told in a line that lies over its surroundings and moves nothing."""

from PySide6.QtCore import QEvent, QObject, QRect, Qt
from PySide6.QtWidgets import QWidget

from app.style.plain import Text


class ReasonLine(Text):
    """One line over the lower edge of `host`, or below it; on show while any field of it is wrong."""

    def __init__(self, host: QWidget, *, below: bool = False) -> None:
        """`below`: under the host, in the widget it stands in, for hosts that have no room of their own."""
        super().__init__(parent=host)
        self._host, self._below = host, below
        self._reasons: dict[object, str] = {}
        self.setProperty("look", "reason")
        self.setWordWrap(True)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.hide()
        self.ensurePolished()
        host.installEventFilter(self)

    def say(self, field: object, reason: str) -> None:
        """Tell why `field` is wrong; empty: it is right again."""
        self._reasons.pop(field, None)
        if reason:
            self._reasons[field] = reason
        text = next(reversed(self._reasons.values()), "")
        if text != self.text():
            self.setText(text)
        self._place()
        self.setVisible(bool(text))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Resize and not self.isHidden():
            self._place()
        return False

    def _place(self) -> None:
        parent: QWidget | None = self._host
        area = self._host.rect()
        if self._below and self._host.parentWidget() is not None:
            parent = self._host.parentWidget()
            if self.parentWidget() is not parent:
                self.setParent(parent)
            area = self._host.geometry()
        width = min(area.width(), self.sizeHint().width() if self._below else area.width())
        height = self.heightForWidth(width)
        top = area.bottom() + 1 if self._below else area.bottom() + 1 - height
        self.setGeometry(QRect(area.left(), top, width, height))
        self.raise_()
