"""The carrier's crystal against its trimmer, and where the filter wants it."""

from collections.abc import Sequence

import numpy as np

from app.plots.base import Label, Plot
from core.model.project import Project
from core.rig.rows import CarrierRow
from core.stages.carrier_oscillator import pulled_hz

_POINTS = 121
_CURVES = ("carrier", "vfo")


class PullPlot(Plot):
    """Frequency less the IF over the trimmer, a curve for each sideband in use."""

    def __init__(self) -> None:
        super().__init__("trimmer", "pF", "above the IF", "kHz")
        self.curves = [self.curve(role) for role in _CURVES]
        self.wanted = [self.curve("intermediate") for _ in _CURVES]

    def show_rows(self, rows: Sequence[CarrierRow], project: Project) -> None:
        """Show the carriers of a rig."""
        carrier, ladder = project.carrier, next((s for s in project.stages if s.kind == "ladder"), None)
        crystal = carrier.crystal or getattr(ladder, "crystal", None)
        reached = [row for row in rows if row.pulling is not None]
        if crystal is None or not reached:
            self.say("The carrier has no crystal; give one to the ladder or to the carrier oscillator.")
            return
        self.say("")
        fs = project.if_hz + crystal.offset_hz
        x = np.geomspace(carrier.trimmer_low_f, carrier.trimmer_high_f, _POINTS)
        labels, ys = [], []
        for n, (curve, line) in enumerate(zip(self.curves, self.wanted, strict=True)):
            if n >= len(reached) or reached[n].pulling is None:
                curve.setData(np.empty(0), np.empty(0))
                line.setData(np.empty(0), np.empty(0))
                continue
            pulling = reached[n].pulling
            assert pulling is not None  # chosen above
            y = (pulled_hz(crystal, fs, pulling.coil_h, x, carrier.load_capacitance_f) - project.if_hz) / 1e3
            wanted = (pulling.wanted_hz - project.if_hz) / 1e3
            curve.setData(1e12 * x, y)
            line.setData(1e12 * x[[0, -1]], np.array([wanted, wanted]))
            ys += [y.min(), y.max(), wanted]
            name = f"{reached[n].sideband} sideband"
            labels.append(Label(1e12 * x[-1], wanted, f"wanted, {name}", "intermediate", "above_left", 2))
            labels.append(Label(1e12 * x[_POINTS // 2], float(y[_POINTS // 2]), name, _CURVES[n]))
        room = 0.08 * (max(ys) - min(ys)) or 1.0
        self.frame((1e12 * x[0], 1e12 * x[-1]), (min(ys) - room, max(ys) + room), ("pull", project.bands))
        self.labels.show(labels)
