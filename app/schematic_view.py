"""The schematic of a circuit that was solved, drawn as large as fits."""

from PySide6.QtCore import QByteArray, QRectF
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QWidget

from app import palette
from core.circuits.ladder import Network


class SchematicView(QWidget):
    """A network's schematic, as large as fits."""

    def __init__(self) -> None:
        super().__init__()
        self._network: Network | None = None
        self._renderer = QSvgRenderer()
        self._svg = ""
        self._stale = False
        self.setMinimumHeight(90)

    def show_network(self, network: Network) -> None:
        """Draw this network."""
        if network is self._network:
            return
        self._network = network
        self._load()

    def restyle(self) -> None:
        """Take the colours in use."""
        if self._network is not None:
            self._load()

    def _load(self) -> None:
        # Drawing takes 20 ms; a burst of edits pays for the last one only, when it is painted.
        self._stale = True
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        from app.sheet.schematic import schematic_svg

        if self._network is None:
            return
        if self._stale:
            self._stale = False
            colours = palette.roles()
            svg = schematic_svg(self._network, colours.ink, colours.soft)
            if svg != self._svg:
                self._svg = svg
                self._renderer.load(QByteArray(svg.encode()))
        size = self._renderer.defaultSize()
        scale = min(self.width() / size.width(), self.height() / size.height(), 1.5)
        width, height = size.width() * scale, size.height() * scale
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._renderer.render(
            painter, QRectF((self.width() - width) / 2, (self.height() - height) / 2, width, height)
        )
