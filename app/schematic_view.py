"""The schematic of a circuit that was solved, drawn as large as fits."""

from PySide6.QtCore import QByteArray, QRectF, QTimer
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtSvg import QSvgRenderer
from PySide6.QtWidgets import QWidget

from app import palette
from core.circuits.ladder import Network
from core.stages.tank import TankDesign

#: Drawing takes 30 ms, so amid a gesture the drawing follows this much later than the plots, milliseconds.
_REST_MS = 80


class SchematicView(QWidget):
    """A schematic, as large as fits."""

    def __init__(self) -> None:
        super().__init__()
        self._circuit: Network | TankDesign | None = None
        self._renderer = QSvgRenderer()
        self._svg = ""
        self._stale = False
        self._rest = QTimer(self, singleShot=True, interval=_REST_MS)
        self._rest.timeout.connect(self._draw_soon)
        self.setMinimumHeight(90)

    def show_circuit(self, circuit: Network | TankDesign) -> None:
        """Draw a filter's network or the VFO's tank."""
        if circuit is self._circuit:
            return
        another = self._circuit is None or _refs(circuit) != _refs(self._circuit)
        self._circuit = circuit
        if another:
            self._draw_soon()
        elif not self._rest.isActive():
            self._rest.start()

    @property
    def circuit(self) -> Network | TankDesign | None:
        """What is drawn, or soon will be."""
        return self._circuit

    @property
    def svg(self) -> str:
        """The drawing on show."""
        return self._svg

    def restyle(self) -> None:
        """Take the colours in use."""
        if self._circuit is not None:
            self._draw_soon()

    def _draw_soon(self) -> None:
        self._stale = True
        self.update()

    def _drawn(self) -> str:
        from app.sheet.schematic import schematic_svg
        from app.sheet.tank_schematic import tank_svg

        colours = palette.roles()
        if isinstance(self._circuit, TankDesign):
            return tank_svg(self._circuit, colours.ink, colours.soft)
        assert self._circuit is not None  # painted only when there is one
        return schematic_svg(self._circuit, colours.ink, colours.soft)

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._circuit is None:
            return
        if self._stale:
            self._stale = False
            svg = self._drawn()
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


def _refs(circuit: Network | TankDesign) -> tuple[str, ...]:
    """The references of a circuit's parts: with the same ones it is the same circuit with other values."""
    if isinstance(circuit, TankDesign):
        return tuple(circuit.values)
    return tuple(part.ref for part in circuit.parts)
