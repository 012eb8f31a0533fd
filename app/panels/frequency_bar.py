"""The arithmetic of the rig as one line, and what turns it: dial, IF, band, direction, hold."""

from collections.abc import Hashable
from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QButtonGroup,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from app.pictures.panels.frequency_bar import HERTZ, BarPicture, outline_of, picture_of, ticks_of
from app.state.workbench import Workbench
from app.style import words
from app.style.numbers import Style
from app.style.palette import figures_font
from app.style.plain import Text, on_button, tip
from app.widgets.drawn import Drawn
from app.widgets.figure import Figure
from app.widgets.flow_row import FlowRow
from app.widgets.number_field import NumberField
from app.widgets.reason_line import ReasonLine
from app.widgets.slider import FrequencySlider
from app.widgets.view import View
from core.model.bands import Scheme
from core.model.project import Project
from core.model.values.notation import format_value
from core.rig.figures.plan import SLIDER_ENDS, TO_CARRIER, VFO_NOW

#: Megahertz to the hertz, so that every digit is there to be stepped.
_ON_THE_DIAL = Style(places=6, exponent=6)
#: Between terms, sliders and buttons, pixels.
_SPACING = 18
_ORDINARY = "88.888\u202f888 MHz"


class FrequencyBar(Drawn[BarPicture], View):
    """`dial = IF − VFO`, or the scheme of the band in use, exact to the hertz.

    The IF stands for its crystals' frequency; the carrier lies at the edge of the filter, so the way from
    one to the other is a term of its own.
    """

    def __init__(self, bench: Workbench, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bench = bench
        self.reason = ReasonLine(self, below=True)
        flow = FlowRow(spacing=_SPACING)
        self._groups = (self._made_terms(), self._made_sliders(), self._made_buttons())
        for group in self._groups:
            flow.add(group)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 8, 14, 8)
        column.addWidget(flow)

    # Building

    def _made_terms(self) -> QWidget:
        large = figures_font(self.font(), 1.6, bold=True)
        medium = figures_font(self.font(), 1.25, bold=True)
        self.dial = NumberField(self._turn_dial, HERTZ, style=_ON_THE_DIAL)
        self.dial.setAccessibleName("Dial")
        self.dial.setToolTip("<p><b>Dial</b></p><p>The suppressed carrier on the air. Unit: Hz</p>")
        self.dial.setFont(large)
        self.intermediate = NumberField.for_field(
            Project.model_fields["if_hz"], partial(self._bench.edit, ("if_hz",)), style=_ON_THE_DIAL
        )
        self.intermediate.setFont(medium)
        self.intermediate.setProperty("look", "intermediate")
        for field, look in ((self.dial, "dial"), (self.intermediate, "intermediate")):
            field.setProperty("look", look)
            _make_room(field, _ORDINARY)
            field.marked.connect(partial(self._say, field))
            field.refused.connect(self._bench.refused)
        self.offset = Figure("carrier", medium, "8.888 kHz")
        self.offset.clicked.connect(lambda: self._bench.select(("carrier",)))
        self.offset.setToolTip(tip(TO_CARRIER.tip))
        self.vfo = Figure("vfo", medium, "8.888\u202f888 MHz")
        self.vfo.clicked.connect(lambda: self._bench.select(("vfo",)))
        self.vfo.setToolTip(tip(VFO_NOW.tip))
        self._captions = {
            name: Text(text)
            for name, text in (
                ("dial", "Dial"),
                ("intermediate", "IF"),
                ("offset", TO_CARRIER.title),
                ("vfo", VFO_NOW.title),
            )
        }
        self._signs = [Text("="), Text(), Text()]
        for sign in self._signs:
            sign.setFont(medium)
            sign.setProperty("look", "soft")
        self._terms = QGridLayout()
        self._terms.setContentsMargins(0, 0, 0, 0)
        self._terms.setHorizontalSpacing(7)
        self._terms.setVerticalSpacing(1)
        for caption in self._captions.values():
            caption.setProperty("look", "soft")
        made = QWidget()
        made.setLayout(self._terms)
        made.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self._order("if_minus_vfo")
        return made

    def _order(self, scheme: Scheme) -> None:
        """Put the terms in the order of the scheme: what is taken off comes last."""
        self._scheme = scheme
        names = ["dial", "intermediate", "offset", "vfo"]
        if scheme == "vfo_minus_if":
            names = ["dial", "vfo", "intermediate", "offset"]
        for column, name in enumerate(names):
            self._terms.addWidget(self._captions[name], 0, 2 * column)
            self._terms.addWidget(getattr(self, name), 1, 2 * column, Qt.AlignmentFlag.AlignVCenter)
        for column, sign in enumerate(self._signs):
            self._terms.addWidget(sign, 1, 2 * column + 1)

    def _made_sliders(self) -> QWidget:
        self.dial_slider = FrequencySlider("Dial slider")
        self.dial_slider.turned.connect(lambda hz, gesture: self._bench.turn_dial(hz))
        self.dial_slider.setToolTip("Turns the dial. The ticks are birdies and other responses on the dial.")
        self.if_slider = FrequencySlider("IF slider")
        self.if_slider.turned.connect(self._turn_if)
        self.if_slider.setToolTip("Moves the IF, and with it the crystals of ladder and carrier oscillator.")
        self.if_slider.sliderReleased.connect(self.update)
        # What the hand moved is put where the design has it, also when the design stays as it was.
        for slider in (self.dial_slider, self.if_slider):
            slider.turned.connect(self.forget)
        made = QWidget()
        grid = QGridLayout(made)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(6)
        grid.setVerticalSpacing(0)
        self._ends: list[QLabel] = []
        for row, (name, slider) in enumerate((("Dial", self.dial_slider), ("IF", self.if_slider))):
            caption, low, high = Text(name), Text(), Text()
            for column, widget in enumerate((caption, low, slider, high)):
                grid.addWidget(widget, row, column)
            for label in (caption, low, high):
                label.setProperty("look", "soft")
            for label, figure in zip((low, high), SLIDER_ENDS, strict=True):
                label.setToolTip(tip(figure.tip))
            low.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            self._ends += [low, high]
        grid.setColumnStretch(2, 1)
        made.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        return made

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._arrange_buttons(event.size().width())
        super().resizeEvent(event)

    def _arrange_buttons(self, width: int) -> None:
        """The buttons in two rows at the right; below the terms, where there is width, in one."""
        terms, sliders, buttons = self._groups
        rows = (self._band_row.sizeHint().width(), self._way_row.sizeHint().width())
        margins = self.layout().contentsMargins()  # type: ignore[union-attr]  # made above
        wanted = terms.sizeHint().width() + sliders.sizeHint().width() + max(rows) + 2 * _SPACING
        beside = wanted + margins.left() + margins.right() <= width
        way = QBoxLayout.Direction.TopToBottom if beside else QBoxLayout.Direction.LeftToRight
        if way != self._button_rows.direction():
            self._button_rows.setDirection(way)
            buttons.updateGeometry()

    def _made_buttons(self) -> QWidget:
        made = QWidget()
        column = self._button_rows = QVBoxLayout(made)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(5)
        self._band_row = QHBoxLayout()
        self._band_row.setSpacing(5)
        self._band_group = QButtonGroup(self)
        column.addLayout(self._band_row)
        row = self._way_row = QHBoxLayout()
        row.setSpacing(5)
        group = QButtonGroup(self)
        self.way_buttons: dict[str, QPushButton] = {}
        for way in ("receive", "transmit"):
            button = QPushButton(words.way(way))
            button.setCheckable(True)
            button.clicked.connect(partial(self._bench.look_at_way, way))
            button.clicked.connect(self.forget)
            group.addButton(button)
            row.addWidget(button)
            self.way_buttons[way] = button
        self.hold = QPushButton("Hold")
        self.hold.setCheckable(True)
        self.hold.setToolTip(
            "Keeps the design as it is now; the plots go on showing it dashed. Press again to let go."
        )
        self.hold.clicked.connect(lambda on: self._bench.hold() if on else self._bench.clear_hold())
        self.hold.clicked.connect(self.forget)
        row.addWidget(self.hold)
        column.addLayout(row)
        made.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        return made

    # Showing

    def outline(self, bench: Workbench) -> None:
        """Show what is set, before what follows from it is computed."""
        self.show_picture(outline_of(bench.current, bench.look))

    def refresh(self, bench: Workbench) -> None:
        former = self._drawn
        self.show_picture(picture_of(bench.analysis, bench.held_analysis, bench.look))
        if former is None or former.band != bench.band_name:
            self.settle(bench)

    def settle(self, bench: Workbench) -> None:
        # Nobody reads ticks under a moving hand, and they cost a fifth of an edit where no chart is shown.
        self.dial_slider.show_ticks(ticks_of(bench.analysis, bench.look))

    def draw(self, picture: BarPicture) -> None:
        if picture.scheme != self._scheme:
            self._order(picture.scheme)
        self._show_terms(picture)
        self._show_sliders(picture)
        self._show_buttons(picture)

    def _show_terms(self, picture: BarPicture) -> None:
        self.dial.set_value(picture.dial_hz)
        self.intermediate.set_value(picture.if_hz)
        for field in (self.dial, self.intermediate):
            _make_room(field, field.text())
        self.offset.show_text(picture.offset)
        self.offset.setAccessibleName(f"From the IF to the carrier {picture.offset}")
        self.vfo.show_text(picture.vfo)
        self.vfo.setAccessibleName(f"VFO {picture.vfo}")
        for label, sign in zip(self._signs, picture.signs, strict=True):
            _set_text(label, sign)
        _set_text(self._captions["dial"], picture.caption)

    def _show_sliders(self, picture: BarPicture) -> None:
        step = 100.0 if picture.high_hz - picture.low_hz > 20e3 else 10.0
        self.dial_slider.show_range(picture.low_hz, picture.high_hz, step)
        self.dial_slider.show_hz(picture.dial_hz)
        if not self.if_slider.isSliderDown():
            self._show_if_range(picture.if_hz)
        self.if_slider.show_hz(picture.if_hz)
        ends = (picture.low_hz, picture.high_hz, self.if_slider.low_hz, self.if_slider.high_hz)
        for label, figure, hz in zip(self._ends, 2 * SLIDER_ENDS, ends, strict=True):
            _set_text(label, figure.bare(hz))

    def _show_if_range(self, if_hz: float) -> None:
        """Keep the IF's slider where it is while the IF is well inside, else centre it anew."""
        slider = self.if_slider
        span = _if_span(if_hz)
        room = 0.05 * span
        if abs(slider.high_hz - slider.low_hz - span) > 1 or not (
            slider.low_hz + room <= if_hz <= slider.high_hz - room
        ):
            centre = round(if_hz / 1e3) * 1e3
            slider.show_range(centre - span / 2, centre + span / 2, span / 400)

    def _show_buttons(self, picture: BarPicture) -> None:
        if picture.bands != tuple(button.objectName() for button in self._band_group.buttons()):
            self._make_band_buttons(picture.bands)
        for button in self._band_group.buttons():
            button.setChecked(button.objectName() == picture.band)
        for way, button in self.way_buttons.items():
            button.setChecked(way == picture.way)
        self.hold.setChecked(picture.held)
        if self.hold.text() != (text := "Held" if picture.held else "Hold"):
            self.hold.setText(text)
            self.hold.setAccessibleName("Let the held design go" if picture.held else "Hold this design")

    def _make_band_buttons(self, names: tuple[str, ...]) -> None:
        for old in self._band_group.buttons():
            self._band_group.removeButton(old)
            self._band_row.removeWidget(old)
            old.deleteLater()
        for place, name in enumerate(names):
            button = QPushButton(on_button(words.band(name)))
            button.setObjectName(name)
            button.setCheckable(True)
            button.setAccessibleName(f"Band {words.band(name)}")
            button.setToolTip(tip(f"Looks at {words.band(name)}: what is shown is then of this band."))
            button.clicked.connect(partial(self._look_at, place))
            button.clicked.connect(self.forget)
            self._band_group.addButton(button)
            self._band_row.addWidget(button)
        self._arrange_buttons(self.width())

    # Acting

    def _look_at(self, place: int, _: bool = False) -> None:
        # By its place: pressing the button may first have taken a new name for the band from the editor.
        bands = self._bench.current.bands
        if place < len(bands):
            self._bench.look_at_band(bands[place].name)

    def _turn_dial(self, hz: float | None, gesture: Hashable | None) -> str | None:
        band = self._bench.band
        if hz is None or not band.low_hz <= hz <= band.high_hz:
            return (
                f"The dial on {words.band(band.name)} goes from {format_value(band.low_hz, 'Hz', 7)} "
                f"to {format_value(band.high_hz, 'Hz', 7)}; the band's edges are set under The rig."
            )
        self._bench.turn_dial(hz)
        return None

    def _say(self, field: NumberField, reason: str) -> None:
        self.reason.say(field, reason)
        if reason:
            self._bench.refused.emit(reason)

    def _turn_if(self, hz: float, gesture: Hashable) -> None:
        self._bench.edit(("if_hz",), hz, ("IF slider", gesture))


def _if_span(if_hz: float) -> float:
    """Width of the IF's slider [Hz]: about two thousandths of the IF, round."""
    for span in (4e3, 10e3, 20e3, 40e3):
        if span >= 1.5e-3 * if_hz:
            return span
    return 100e3


def _make_room(field: QLineEdit, text: str) -> None:
    """Widen a field until `text` fits."""
    wanted = field.fontMetrics().horizontalAdvance(text) + 18
    if wanted > field.minimumWidth():
        field.setFixedWidth(wanted)


def _set_text(label: QLabel, text: str) -> None:
    if label.text() != text:
        label.setText(text)
