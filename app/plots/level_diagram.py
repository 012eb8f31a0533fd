"""Level diagram: the corridor along the stages between own noise and the first overload."""

import numpy as np
import pyqtgraph as pg

from app import palette
from app.plots.base import Label, Plot, Shape, Shapes
from app.workbench import Workbench
from core.circuits.ladder import Array
from core.model.notation import signed
from core.rig.levels import Block, ReceiveLevels, TransmitLevels
from core.rig.oscillator_drive import Drive

_SHORT = {
    "low_pass": "LP",
    "band_pass": "BP",
    "amplifier": "amp",
    "attenuator": "pad",
    "mixer": "mix",
    "ladder": "xtal",
    "audio": "AF",
    "power_amplifier": "PA",
}
#: Room above and below the curves, dB.
_MARGIN_DB = 8.0


class LevelDiagram(Plot):
    """Receive: band noise, S9 and a strong signal inside the corridor. Transmit: level and limit."""

    def __init__(self) -> None:
        super().__init__("", "", "level", "dBm")
        # Two rows of names, so that a long path stays readable in a narrow window.
        self.getPlotItem().getAxis("bottom").setHeight(34)
        self.corridor = Shapes(self)
        self.held_curves = [self.curve("held", dashed=True) for _ in range(2)]
        self.curves = {
            "overload": self.curve("overload"),
            "strong": self.curve("strong"),
            "signal": self.curve("signal", width=2),
            "band_noise": self.curve("band_noise"),
            "own_noise": self.curve("own_noise"),
        }
        self.labels.clear_of = tuple(self.curves.values())
        self.place_line = self.curve("soft")
        self.drives = pg.ScatterPlotItem(pxMode=True)
        self.addItem(self.drives)
        self._driven: list[tuple[float, Drive]] = []
        self._shown: tuple[object, ...] = ()

    def refresh(self, bench: Workbench) -> None:
        """Show the levels at the dial of the band and direction looked at."""
        band, way, dial = bench.band_name, bench.way, bench.dial_hz
        held = bench.held_analysis
        if held is not None and all(each.name != band for each in held.project.bands):
            held = None
        if not bench.current.path(way):
            self._shown = ()
            self.say(f"No stage works in {way}; insert one with the + of the signal path.")
            return
        self.say("")
        levels: ReceiveLevels | TransmitLevels
        kept: ReceiveLevels | TransmitLevels | None
        if way == "receive":
            levels, kept = (
                bench.analysis.receive(band, dial),
                None if held is None else held.receive(band, dial),
            )
        else:
            levels, kept = (
                bench.analysis.transmit(band, dial),
                None if held is None else held.transmit(band, dial),
            )
        state = (levels, kept, bench.selection, palette.theme())
        driven = _driven(bench, levels.blocks)
        same = len(self._shown) == len(state) and all(a is b for a, b in zip(state, self._shown, strict=True))
        if same and driven == self._driven:
            return
        self._shown = state
        self._driven = driven
        self.tick("bottom", _ticks(levels.blocks, way))
        if isinstance(levels, ReceiveLevels):
            self._show_receive(levels)
        else:
            self._show_transmit(levels)
        self._show_drives()
        self._show_held(kept)
        self._show_place(levels.blocks, bench)

    def forget(self) -> None:
        """Draw everything anew at the next refresh."""
        self._shown = ()

    def _show_receive(self, r: ReceiveLevels) -> None:
        x = np.arange(len(r.nodes), dtype=float)
        top = np.minimum(r.overload_dbm, 60.0)
        data: dict[str, Array] = {
            "overload": top,
            "strong": r.strong_dbm,
            "signal": r.s9_dbm,
            "band_noise": r.band_noise_levels_dbm,
            "own_noise": r.own_noise_dbm,
        }
        for name, values in data.items():
            self.curves[name].setData(x, values)
        outline = [*zip(x, top, strict=True), *reversed(list(zip(x, r.own_noise_dbm, strict=True)))]
        self.corridor.show_shapes([Shape(tuple((float(a), float(b)) for a, b in outline), "corridor")])
        bottom = float(r.own_noise_dbm.min()) - _MARGIN_DB
        self._frame(len(x), (bottom, max(float(r.strong_dbm.max()), 40.0) + _MARGIN_DB), "receive")
        at = min(1.0, len(x) - 1.0)
        self.labels.show(
            [
                Label(at, float(np.interp(at, x, top)), "first to overload", "overload", "above_right", 5),
                Label(at, float(np.interp(at, x, r.strong_dbm)), "S9 + 40 dB", "strong", "above_right", 3),
                Label(at, float(np.interp(at, x, r.s9_dbm)), "S9", "signal", "above_right", 4),
                Label(
                    at,
                    float(np.interp(at, x, r.band_noise_levels_dbm)),
                    "band noise",
                    "band_noise",
                    "above_right",
                    4,
                ),
                Label(
                    at, float(np.interp(at, x, r.own_noise_dbm)), "own noise", "own_noise", "below_right", 4
                ),
                *self._drive_labels(),
            ]
        )

    def _show_transmit(self, t: TransmitLevels) -> None:
        x = np.arange(len(t.nodes), dtype=float)
        self.curves["signal"].setData(x, t.level_dbm)
        limits = [(n + 1.0, limit) for n, limit in enumerate(t.limit_dbm) if limit is not None]
        for name in ("strong", "band_noise", "own_noise"):
            self.curves[name].setData(np.empty(0), np.empty(0))
        self.curves["overload"].setData(
            np.array([at for at, _ in limits], dtype=float),
            np.array([limit for _, limit in limits], dtype=float),
        )
        rooms = [
            Shape.box((at - 0.18, at + 0.18), (float(t.level_dbm[int(at)]), limit), "corridor", "rule")
            for at, limit in limits
        ]
        self.corridor.show_shapes(rooms)
        top = max([float(t.level_dbm.max()), *(limit for _, limit in limits)])
        self._frame(len(x), (float(t.level_dbm.min()) - _MARGIN_DB, top + 2 * _MARGIN_DB), "transmit")
        last = len(x) - 1
        labels = [
            Label(0.2, float(t.level_dbm[0]), "speech peaks", "signal", "above_right", 3),
            Label(last, float(t.level_dbm[-1]), f"{t.output_w:.2g} W", "signal", "above_left", 5),
        ]
        if limits:
            labels.append(Label(*limits[0], "compression", "overload", "above_right", 4))
        labels += self._drive_labels()
        self.labels.show(labels)

    def _show_drives(self) -> None:
        """A filled mark where an oscillator drives a mixer, a hollow one where the mixer wants it."""
        spots = []
        for at, drive in self._driven:
            role = "vfo" if drive.oscillator == "vfo" else "carrier"
            for level, brush in (
                (drive.wanted_dbm, None),
                (drive.delivered_dbm, palette.brush(role)),
            ):
                spots.append(
                    {"pos": (at, level), "symbol": "d", "size": 9, "brush": brush, "pen": palette.pen(role)}
                )
        self.drives.setData(spots)

    def _drive_labels(self) -> list[Label]:
        labels = []
        for at, drive in self._driven:
            name, role = ("VFO", "vfo") if drive.oscillator == "vfo" else ("carrier", "carrier")
            wants = "" if abs(drive.missing_db) < 0.5 else f", wants {signed(drive.wanted_dbm, 0)}"
            text = f"{name} {signed(drive.delivered_dbm, 0)} dBm{wants}"
            labels.append(Label(at, drive.delivered_dbm, text, role, "above_left", 2))
        return labels

    def _show_held(self, kept: ReceiveLevels | TransmitLevels | None) -> None:
        first: Array | None = None
        second: Array | None = None
        if isinstance(kept, ReceiveLevels):
            first, second = kept.s9_dbm, kept.own_noise_dbm
        elif kept is not None:
            first = kept.level_dbm
        for curve, values in zip(self.held_curves, (first, second), strict=True):
            if values is None:
                curve.setData(np.empty(0), np.empty(0))
            else:
                curve.setData(np.arange(values.size, dtype=float), values)

    def _show_place(self, blocks: tuple[Block, ...], bench: Workbench) -> None:
        stage = bench.selected_stage
        at = next(
            (n + 1.0 for n, block in enumerate(blocks) if stage is not None and block.stage == stage.id), None
        )
        if at is None:
            self.place_line.setData(np.empty(0), np.empty(0))
        else:
            self.place_line.setData(np.array([at, at]), np.array([-300.0, 150.0]))

    def _frame(self, count: int, y: tuple[float, float], way: str) -> None:
        # Whole tens, so that a turn of the IF does not make the scale tremble.
        low, high = 10 * np.floor(y[0] / 10), 10 * np.ceil(y[1] / 10)
        self.frame((-0.4, count - 0.6), (float(low), float(high)), (way, count))


def _driven(bench: Workbench, blocks: tuple[Block, ...]) -> list[tuple[float, Drive]]:
    """The mixers of the path with their place in the diagram."""
    places = {block.stage: n + 1.0 for n, block in enumerate(blocks)}
    return [(places[d.stage], d) for d in bench.analysis.drives if d.stage in places]


def _ticks(blocks: tuple[Block, ...], way: str) -> list[tuple[float, str]]:
    names = ["ant" if way == "receive" else "mic"]
    for block in blocks:
        short = _SHORT[block.kind]
        if block.kind == "mixer" and "audio" in (block.zone,):
            short = "mod"
        elif block.kind == "mixer" and block.zone == "if" and way == "receive":
            short = "det"
        names.append(short)
    return [(float(n), name if n % 2 == 0 else f"\n{name}") for n, name in enumerate(names)]
