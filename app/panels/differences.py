"""The held design against the present one, in figures."""

from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QLabel, QVBoxLayout, QWidget

from app.state.workbench import Workbench
from app.style import palette, words
from app.style.numbers import number_text
from app.style.plain import Text
from app.widgets.view import View
from core.model.values.notation import format_frequency, format_value, signed
from core.model.values.quantities import Unit
from core.rig.analysis import Analysis
from core.rig.read_out.schemes import Reading
from core.rig.rules import inspect
from core.stages.outcome import Unsolved
from core.stages.vfo.vfo import VfoFigures

_NONE = "none"


@dataclass(frozen=True, slots=True)
class Row:
    """One figure in both designs, as text."""

    name: str
    held: str
    now: str


def differences(held: Analysis, now: Analysis, band: str) -> tuple[Row, ...]:
    """The figures that differ between two designs on a band, in the order of the signal."""
    before, after = (figures(analysis, band) for analysis in (held, now))
    return tuple(
        Row(name, _without_unit(before.get(name, _NONE), after.get(name, _NONE)), after.get(name, _NONE))
        for name in dict.fromkeys((*before, *after))
        if before.get(name) != after.get(name)
    )


def _without_unit(text: str, other: str) -> str:
    """`text` without its unit, when `other` beside it has the same one."""
    number, space, unit = text.partition(" ")
    return number if space and other.partition(" ")[2] == unit else text


def figures(analysis: Analysis, band: str) -> dict[str, str]:
    """What a builder compares, by name: frequencies, bandwidths, receive and transmit figures of a band."""
    project = analysis.project
    found = {"IF": number_text(round(project.if_hz), Unit("Hz", scaled=True))}
    if all(each.name != band for each in project.bands):
        return found
    on = words.band(band)
    plan = analysis.band_plan(band)
    found["Carrier"] = format_frequency(plan.carrier_hz, 1)
    found[f"VFO from, {on}"] = format_frequency(plan.vfo_low_hz, 1000)
    found[f"VFO to, {on}"] = format_frequency(plan.vfo_high_hz, 1000)
    found[f"Image from, {on}"] = format_frequency(plan.image_low_hz, 1000)
    crossing = [s for s in analysis.spurs(band) if s.crosses and s.kind != "transmit"]
    lowest = min((s.order for s in crossing), default=None)
    found[f"First crossing, {on}"] = "none" if lowest is None else f"order {lowest}"
    for row in analysis.filters:
        if band not in row.bands or isinstance(row.figures, Unsolved):
            continue
        width = row.figures.bandwidth_6db_hz
        if width is not None:
            found[f"{row.name}, −6 dB"] = format_value(width, "Hz", 4)
        found[f"{row.name}, loss"] = format_value(row.figures.insertion_loss_db, "dB", 2)
    found |= _vfo_figures(analysis, band, on)
    receive, transmit = analysis.receive(band), analysis.transmit(band)
    found["Noise figure"] = format_value(receive.noise_figure_db, "dB", 3)
    found["MDS"] = f"{receive.mds_dbm:.1f} dBm".replace("-", "−")
    if receive.iip3_dbm is not None:
        found["Input intercept"] = f"{receive.iip3_dbm:.1f} dBm".replace("-", "−")
    found["Noise at the ear"] = format_value(receive.speaker_noise_db_spl, "dB SPL", 2)
    found["Output"] = format_value(transmit.output_w, "W", 2)
    faults = sum(finding.severity == "fault" for finding in inspect(analysis))
    found["Faults"] = str(faults)
    return found


def _vfo_figures(analysis: Analysis, band: str, on: str) -> dict[str, str]:
    """The VFO's figures and what the read-out stores on a band."""
    found = {}
    of = analysis.vfo_on(band)
    if isinstance(of, VfoFigures):
        found[f"VFO covers from, {on}"] = format_frequency(of.cover.covers_low_hz, 1000)
        found[f"VFO covers to, {on}"] = format_frequency(of.cover.covers_high_hz, 1000)
        found["Tuning, most"] = f"{of.dial.worst_hz_per_turn / 1e3:.3g} kHz/turn"
        found["Drift"] = signed(of.worst_drift.hz_per_k, 0, "Hz/K")
        found["Start-up"] = f"{min(of.start):.2g} times"
    row = analysis.read_out.of(band) if analysis.read_out else None
    if row is not None and isinstance(row.reading, Reading):
        found[f"Stored, {on}"] = format_frequency(row.reading.offset_hz, 1)
    return found


class Differences(View):
    """A row a figure that changed since the design was held; hidden when none is held."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: object = None
        self._rows: tuple[Row, ...] = ()
        self._labels: list[tuple[QLabel, QLabel, QLabel]] = []
        title = Text("Held against now")
        title.setProperty("look", "title")
        self._same = Text("No figure differs from the held design.")
        self._same.setProperty("look", "soft")
        self._same.setWordWrap(True)
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(3)
        self._grid.setColumnStretch(0, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 8)
        column.addWidget(title)
        column.addWidget(self._same)
        column.addLayout(self._grid)
        column.addStretch(1)

    def wanted_height(self) -> int:
        """How high it is with all its rows in sight."""
        layout = self.layout()
        assert layout is not None
        width = self.width()
        return layout.heightForWidth(width) if layout.hasHeightForWidth() else layout.sizeHint().height()

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows on show."""
        return self._rows

    def settle(self, bench: Workbench) -> None:
        held = bench.held_analysis
        if held is None:
            return
        asked = (held.project, bench.current, bench.band_name)
        if asked == self._shown:
            return
        self._shown = asked
        self._show(differences(held, bench.analysis, bench.band_name))

    def _show(self, rows: tuple[Row, ...]) -> None:
        if rows == self._rows and self._labels:
            return
        self._rows = rows
        self._same.setVisible(not rows)
        while len(self._labels) < len(rows):
            self._labels.append(self._made_row(len(self._labels)))
        for number, labels in enumerate(self._labels):
            row = rows[number] if number < len(rows) else None
            for label, text in zip(labels, (row.name, row.held, row.now) if row else ("",) * 3, strict=True):
                if label.text() != text:
                    label.setText(text)
                if label.isHidden() == (row is not None):
                    label.setVisible(row is not None)

    def _made_row(self, number: int) -> tuple[QLabel, QLabel, QLabel]:
        name, held, now = Text(), Text(), Text()
        for label in (name, held, now):
            label.setFont(palette.figures_font(self.font(), 0.92, bold=label is now))
        name.setProperty("look", "soft")
        name.setWordWrap(True)
        held.setProperty("look", "soft")
        for column, label in enumerate((name, held, now)):
            align = Qt.AlignmentFlag.AlignLeft if column == 0 else Qt.AlignmentFlag.AlignRight
            self._grid.addWidget(label, number, column, align | Qt.AlignmentFlag.AlignVCenter)
        return name, held, now
