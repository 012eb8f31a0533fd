"""The VFO: its dial, its drift part by part, whether it starts, and the parts found for it."""

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from app import palette, words
from app.figure_table import FigureTable
from app.plain import Text
from app.plots.dial import BandCurvePlot, DialPlot, Range, WarmUpPlot
from app.schematic_view import SchematicView
from app.stage_views.base import StageView
from app.stage_views.vfo_table import drive_rows, vfo_rows
from app.two_way import TwoWay
from app.workbench import Workbench
from core.circuits.ladder import Array
from core.model.notation import format_frequency, signed
from core.model.tank import Tank
from core.rig.analysis import Analysis
from core.rig.frequency_plan import dial_for
from core.stages import tank_design, vfo
from core.stages.compensation import compensated, compensation
from core.stages.outcome import Unsolved
from core.stages.tank import TankDesign
from core.stages.vfo import VfoFigures

_MINUTES = np.linspace(0.0, 90.0, 181)
_LOOKS = ("kHz a turn", "even scale", "warming up")


class VfoView(StageView):
    """Four cards: frequency against the knob; tuning rate, scale or warming up; drift; figures."""

    def __init__(self) -> None:
        super().__init__()
        self._bench: Workbench | None = None
        self.dial = DialPlot()
        self.rate = BandCurvePlot("tuning", "kHz a turn")
        self.scale = BandCurvePlot("scale reads", "kHz off")
        self.warming = WarmUpPlot()
        self.looks = TwoWay(_LOOKS, "Dial and drift")
        self._stack = QStackedWidget()
        for plot in (self.rate, self.scale, self.warming):
            self._stack.addWidget(plot)
        self.looks.chosen.connect(self._stack.setCurrentIndex)
        self.looks.chosen.connect(self._again)
        self.drift = FigureTable(even=False)
        self.schematic = SchematicView()
        self.notes = Text("\n\n".join(vfo.GUIDANCE))
        self.notes.setWordWrap(True)
        self.notes.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.circuit = TwoWay(("drift", "schematic", "notes"), "Parts")
        self._parts = QStackedWidget()
        for part in (self.drift, self.schematic, self.notes):
            self._parts.addWidget(part)
        self.circuit.chosen.connect(self._parts.setCurrentIndex)
        self.circuit.chosen.connect(self._again)
        self.table = FigureTable(wrapped=True)
        self.keep = _button(
            "Keep these parts",
            "Writes every part's present value as built, so that it stays when the rig is turned",
            self._keep,
        )
        self.anew = _button(
            "Solve anew", "Clears the as-built values, so that the parts are found again", self._anew
        )
        self.compensate = _button(
            "Compensate",
            "Makes the part of the parallel capacitor that stills the drift of the chosen compensating kind",
            self._compensate,
        )
        self.reason = Text()
        self.reason.setWordWrap(True)
        self.card("Frequency against the knob", self.dial, 0, 0)
        self._look_card = self.card("On the band", self._stack, 0, 1, corner=self.looks)
        self._drift_card = self.card("Drift", self._parts, 1, 0, corner=self.circuit)
        self.card("Figures", self._with_buttons(), 1, 1)

    def _with_buttons(self) -> QWidget:
        made = QWidget()
        column = QVBoxLayout(made)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.table, 1)
        column.addWidget(self.reason)
        row = QHBoxLayout()
        for button in (self.keep, self.anew, self.compensate):
            row.addWidget(button)
        row.addStretch(1)
        column.addLayout(row)
        return made

    def refresh(self, bench: Workbench) -> str:
        self._bench = bench
        analysis, band = bench.analysis, bench.band_name
        made = analysis.tank
        if made is None:
            return (
                "The VFO is a block without a tank; tick “Tank” on the left to design what tunes it, or edit "
                "its level and harmonics there."
            )
        if isinstance(made, Unsolved):
            return made.reason
        found = analysis.vfo_on(band)
        held = _held(bench)
        looks = (self.looks.place, self.circuit.place, bench.current.vfo, analysis.drives, palette.theme())
        if self.is_shown(made, found, held, band, *looks):
            self._show_here(bench)
            return ""
        self._show_dial(bench, made, held)
        self._show_here(bench)
        self.schematic.show_circuit(made)
        if isinstance(found, Unsolved):
            for plot in (self.rate, self.scale, self.warming):
                plot.say(found.reason)
            self.drift.show_rows(("part",), ())
            self.table.show_rows(("figure", "value"), ())
        else:
            self._show_look(analysis, band, made, found, held)
            self._show_drift(band, found)
            still = compensation(made)
            rows = [*vfo_rows(made, found, still), *drive_rows(bench.current, analysis.drives)]
            self.table.show_rows(("figure", words.band(band)), rows)
        self.reason.setText(" ".join(made.limits))
        self.reason.setVisible(bool(made.limits))
        self.anew.setEnabled(bool(made.tank.as_built))
        return ""

    def _again(self) -> None:
        if self._bench is not None:
            self.refresh(self._bench)

    # -- pictures ------------------------------------------------------------------------------------

    def _show_here(self, bench: Workbench) -> None:
        self.dial.show_here(bench.analysis.band_plan(bench.band_name).vfo_at(bench.dial_hz) / 1e6)

    def _show_dial(self, bench: Workbench, made: TankDesign, held: TankDesign | None) -> None:
        ranges = []
        for cover in made.ranges:
            of = vfo.dial(made, cover.band)
            if not isinstance(of, Unsolved):
                wanted = (cover.wanted_low_hz / 1e6, cover.wanted_high_hz / 1e6)
                here = cover.band == bench.band_name
                ranges.append(Range(words.band(cover.band), of.turns, of.f_hz / 1e6, wanted, here))
        if not ranges:
            self.dial.say("The parts tune nothing of what the bands want; see below what stands in the way.")
            return
        kept = None
        if held is not None:
            was = vfo.dial(held, bench.band_name)
            kept = None if isinstance(was, Unsolved) else (was.turns[::4], was.f_hz[::4] / 1e6)
        self.dial.show_ranges(ranges, kept)

    def _show_look(
        self, analysis: Analysis, band: str, made: TankDesign, found: VfoFigures, held: TankDesign | None
    ) -> None:
        of = found.dial
        self._look_card.entitle(f"On {words.band(band)}")
        before = Unsolved("") if held is None else vfo.figures(held, band)
        x = _dials(analysis, band, of.wanted_f_hz)
        kept: tuple[Array, Array] | None = None
        if self.looks.place == 0:
            if isinstance(before, VfoFigures):
                kept = (_dials(analysis, band, before.dial.wanted_f_hz), before.dial.hz_per_turn / 1e3)
            note = f"worst {of.worst_hz_per_turn / 1e3:.3g} kHz a turn"
            self.rate.show_curve(x, of.hz_per_turn / 1e3, note, kept, from_zero=True)
        elif self.looks.place == 1:
            sign = analysis.band_plan(band).vfo_rises / 1e3
            if isinstance(before, VfoFigures):
                then = before.dial
                kept = (_dials(analysis, band, then.wanted_f_hz), sign * then.scale_error_hz)
            note = f"at most {of.worst_scale_error_hz / 1e3:.3g} kHz off"
            self.scale.show_curve(x, sign * of.scale_error_hz, note, kept, from_zero=False)
        else:
            warmth, drift = made.tank.warmth, found.worst_drift
            nominal, worst = (
                vfo.warm_up_hz(rate, warmth, 60 * _MINUTES) for rate in (drift.hz_per_k, drift.worst_hz_per_k)
            )
            was = None
            if held is not None and isinstance(before, VfoFigures):
                was = vfo.warm_up_hz(before.worst_drift.hz_per_k, held.tank.warmth, 60 * _MINUTES)
            note = f"box {warmth.rise_k:g} K warmer; shaded: worst case"
            self.warming.show_drift(_MINUTES, nominal, worst, note, was)

    def _show_drift(self, band: str, found: VfoFigures) -> None:
        at = found.worst_drift
        where = f"{format_frequency(at.f_hz, 1000)} on {words.band(band)}"
        if self.circuit.place:
            self._drift_card.entitle(("", "Circuit", "What keeps it steady")[self.circuit.place])
            return
        self._drift_card.entitle(f"Drift at {where}")
        rows = [
            (c.ref, c.kind, f"{100 * c.share:.1f} %", signed(c.coefficient_ppm, 1), signed(c.effect_ppm, 1))
            for c in at.contributions
        ]
        rows.append(("sum", "strays steady", "", "", signed(at.ppm_per_k, 1)))
        self.drift.show_rows(("part", "kind", "share", "ppm/K", "effect"), rows)

    # -- what the builder does -----------------------------------------------------------------------

    def _change(self, change: Callable[[TankDesign], Tank], label: str) -> None:
        bench = self._bench
        made = None if bench is None else bench.analysis.tank
        if bench is not None and isinstance(made, TankDesign):
            tank = change(made)
            bench.change(lambda project: project.edited(("vfo", "tank"), tank), label=label)

    def _keep(self) -> None:
        self._change(tank_design.kept, "keeping the VFO's parts")

    def _anew(self) -> None:
        self._change(lambda made: tank_design.anew(made.tank), "solving the VFO anew")

    def _compensate(self) -> None:
        bench = self._bench
        made = None if bench is None else bench.analysis.tank
        if bench is None or not isinstance(made, TankDesign):
            return
        found = compensation(made)
        if isinstance(found, Unsolved):
            self.reason.setText(found.reason)
            self.reason.setVisible(True)
            return
        self._change(lambda m: compensated(m, found), "compensating the VFO")


def _button(text: str, help: str, act: Callable[[], None]) -> QPushButton:
    made = QPushButton(text)
    made.setToolTip(f"{help}; one undo takes it back")
    made.clicked.connect(act)
    return made


def _held(bench: Workbench) -> TankDesign | None:
    held = bench.held_analysis
    made = None if held is None else held.tank
    return made if isinstance(made, TankDesign) and made.range_of(bench.band_name) else None


def _dials(analysis: Analysis, band: str, vfo_hz: Array) -> Array:
    """Dial frequencies [MHz] of VFO frequencies, shape (P,) [Hz]."""
    plan = analysis.band_plan(band)
    return dial_for(plan.scheme, plan.carrier_hz, vfo_hz) / 1e6
