"""The carrier's crystal against its trimmer, and where the filter wants it."""

from dataclasses import dataclass

import numpy as np

from app.pictures.figures import Label
from app.plots.base import Plot
from core.model.filters import Crystal
from core.model.oscillators import CarrierOscillator
from core.rig.rows import CarrierRow
from core.stages.carrier_oscillator import pulled_hz

_POINTS = 121
_CURVES = ("carrier", "vfo")


@dataclass(frozen=True, slots=True)
class Pull:
    """What the plot draws: the carrier's crystal (None: it has none), the IF [Hz], trimmer, and carriers."""

    crystal: Crystal | None
    if_hz: float
    oscillator: CarrierOscillator
    rows: tuple[CarrierRow, ...]


class PullPlot(Plot):
    """Frequency less the IF over the trimmer, a curve for each sideband in use."""

    def __init__(self) -> None:
        super().__init__("trimmer", "pF", "above the IF", "kHz")
        self.curves = [self.curve(role) for role in _CURVES]
        self.wanted = [self.curve("intermediate") for _ in _CURVES]
        self.labels.clear_of = (*self.curves, *self.wanted)

    def show_pull(self, pull: Pull) -> None:
        """Show how the carriers of a rig are reached."""
        carrier, crystal, if_hz = pull.oscillator, pull.crystal, pull.if_hz
        reached = [(row.sideband, row.pulling) for row in pull.rows if row.pulling is not None]
        if crystal is None or not reached:
            self.say("The carrier has no crystal; give one to the ladder or to the carrier oscillator.")
            return
        self.say("")
        fs = if_hz + crystal.offset_hz
        x = np.geomspace(carrier.trimmer_low_f, carrier.trimmer_high_f, _POINTS)
        labels, ys = [], []
        for n, (curve, line) in enumerate(zip(self.curves, self.wanted, strict=True)):
            if n >= len(reached):
                curve.setData(np.empty(0), np.empty(0))
                line.setData(np.empty(0), np.empty(0))
                continue
            name, pulling = f"{reached[n][0]} sideband", reached[n][1]
            y = (pulled_hz(crystal, fs, pulling.coil_h, x, carrier.load_capacitance_f) - if_hz) / 1e3
            wanted = (pulling.wanted_hz - if_hz) / 1e3
            curve.setData(1e12 * x, y)
            line.setData(1e12 * x[[0, -1]], np.array([wanted, wanted]))
            ys += [y.min(), y.max(), wanted]
            labels.append(Label(1e12 * x[-1], wanted, f"wanted, {name}", "intermediate", "above_left", 2))
            labels.append(Label(1e12 * x[_POINTS // 2], float(y[_POINTS // 2]), name, _CURVES[n]))
        room = 0.08 * (max(ys) - min(ys)) or 1.0
        sidebands = tuple(sideband for sideband, _ in reached)
        self.frame((1e12 * x[0], 1e12 * x[-1]), (min(ys) - room, max(ys) + room), ("pull", sidebands))
        self.labels.show(labels)
