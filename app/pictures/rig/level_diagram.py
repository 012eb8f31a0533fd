"""Level diagram: the corridor along the stages between own noise and the first overload."""

import numpy as np

from app.pictures.figures import NO_CURVE, Curve, Frame, Label, Shape, Span
from app.pictures.held import held_on_band
from app.state.look import Look
from core.circuits.ladder import Array
from core.model.stages.stage import Way
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.levels import DRIVE, OUTPUT
from core.rig.levels.blocks import Block
from core.rig.levels.oscillator_drive import Drive
from core.rig.levels.receive import ReceiveLevels
from core.rig.levels.transmit import TransmitLevels
from core.stages.kinds.table import KINDS

_, _WANTS, _GETS, _ = DRIVE
#: Room above and below the curves, dB.
_MARGIN_DB = 8.0

_Levels = ReceiveLevels | TransmitLevels


@record
class Spot:
    """A mark at a mixer: hollow at the drive that it wants, filled at the one it gets [dBm]."""

    at: float
    level_dbm: float
    role: str
    filled: bool


@record(kw_only=True)
class LevelPicture:
    """Everything the diagram shows; `held` are the held design's signal and own noise, `place` the stage."""

    stages: tuple[tuple[float, str], ...]
    overload: Curve
    signal: Curve
    strong: Curve
    band_noise: Curve
    own_noise: Curve
    held: tuple[Curve, Curve]
    place: Curve
    spots: tuple[Spot, ...]
    shapes: tuple[Shape, ...]
    labels: tuple[Label, ...]
    frame: Frame


def picture_of(analysis: Analysis, held: Analysis | None, look: Look) -> LevelPicture | str:
    """The levels at the dial of the band and direction looked at, or why there are none."""
    if not analysis.project.path(look.way):
        return f"No stage works in {look.way}; insert one with the + of the signal path."
    then = held_on_band(held, look)
    levels, kept = _levels(analysis, look), None if then is None else _levels(then, look)
    driven = _driven(analysis, levels.blocks)
    if isinstance(levels, ReceiveLevels):
        shapes, labels, y = _received(levels)
        strong, band_noise = _line(levels.strong_dbm), _line(levels.band_noise_levels_dbm)
        overload, signal, own_noise = _line(_top(levels)), _line(levels.s9_dbm), _line(levels.own_noise_dbm)
    else:
        shapes, labels, y = _sent(levels)
        strong = band_noise = own_noise = NO_CURVE
        limits = _limits(levels)
        overload = Curve.over([at for at, _ in limits], [limit for _, limit in limits])
        signal = _line(levels.level_dbm)
    at = next((n + 1.0 for n, block in enumerate(levels.blocks) if block.stage == look.stage), None)
    count = len(levels.nodes)
    return LevelPicture(
        stages=_stages(levels.blocks, look.way),
        overload=overload,
        signal=signal,
        strong=strong,
        band_noise=band_noise,
        own_noise=own_noise,
        held=_held(kept),
        place=NO_CURVE if at is None else Curve.over((at, at), (-300.0, 150.0)),
        spots=tuple(spot for at, drive in driven for spot in _spots(at, drive)),
        shapes=shapes,
        labels=(*labels, *(_drive_label(at, drive) for at, drive in driven)),
        # Whole tens, so that a turn of the IF does not make the scale tremble.
        frame=Frame(
            (-0.4, count - 0.6),
            (float(10 * np.floor(y[0] / 10)), float(10 * np.ceil(y[1] / 10))),
            (look.way, count),
        ),
    )


def _levels(analysis: Analysis, look: Look) -> _Levels:
    ask = analysis.receive if look.way == "receive" else analysis.transmit
    return ask(look.band, look.dial_hz)


def _line(levels_dbm: Array) -> Curve:
    return Curve(np.arange(levels_dbm.size, dtype=float), levels_dbm)


def _top(levels: ReceiveLevels) -> Array:
    """Level [dBm] of the first overload, as far up as is drawn."""
    return np.minimum(levels.overload_dbm, 60.0)


def _limits(levels: TransmitLevels) -> list[tuple[float, float]]:
    return [(n + 1.0, limit) for n, limit in enumerate(levels.limit_dbm) if limit is not None]


def _received(r: ReceiveLevels) -> tuple[tuple[Shape, ...], list[Label], Span]:
    top = _top(r)
    x = np.arange(top.size, dtype=float)
    outline = [*zip(x, top, strict=True), *reversed(list(zip(x, r.own_noise_dbm, strict=True)))]
    corridor = Shape(tuple((float(a), float(b)) for a, b in outline), "corridor")
    at = min(1.0, top.size - 1.0)

    def label(levels_dbm: Array, text: str, role: str, importance: float, side: str = "above_right") -> Label:
        y, also = float(np.interp(at, x, levels_dbm)), _line(levels_dbm).some()
        return Label(at, y, text, role, side=side, importance=importance, also=also)

    strong = f"S9 + {r.strongest_over_s9_db:g} dB"
    labels = [
        label(top, "first to overload", "overload", 5),
        label(r.strong_dbm, f"{strong}, turned down" if r.controls else strong, "strong", 3),
        label(r.s9_dbm, "S9", "signal", 4),
        label(r.band_noise_levels_dbm, "band noise", "band_noise", 4),
        label(r.own_noise_dbm, "own noise", "own_noise", 4, "below_right"),
    ]
    low, high = float(r.own_noise_dbm.min()), max(float(r.strong_dbm.max()), 40.0)
    return (corridor,), labels, (low - _MARGIN_DB, high + _MARGIN_DB)


def _sent(t: TransmitLevels) -> tuple[tuple[Shape, ...], list[Label], Span]:
    limits = _limits(t)
    rooms = tuple(
        Shape.box((at - 0.18, at + 0.18), (float(t.level_dbm[int(at)]), limit), "corridor", "rule")
        for at, limit in limits
    )
    labels = [
        Label(
            0.2,
            float(t.level_dbm[0]),
            "speech peaks",
            "signal",
            side="above_right",
            importance=3,
            also=_line(t.level_dbm).some(),
        ),
        Label(
            t.level_dbm.size - 1,
            float(t.level_dbm[-1]),
            OUTPUT.written(t.output_w),
            "signal",
            side="above_left",
            importance=5,
        ),
    ]
    if limits:
        first, *others = limits
        labels.append(
            Label(*first, "compression", "overload", side="above_right", importance=4, also=tuple(others))
        )
    top = max([float(t.level_dbm.max()), *(limit for _, limit in limits)])
    return rooms, labels, (float(t.level_dbm.min()) - _MARGIN_DB, top + 2 * _MARGIN_DB)


def _held(kept: _Levels | None) -> tuple[Curve, Curve]:
    if isinstance(kept, ReceiveLevels):
        return _line(kept.s9_dbm), _line(kept.own_noise_dbm)
    return NO_CURVE if kept is None else _line(kept.level_dbm), NO_CURVE


def _driven(analysis: Analysis, blocks: tuple[Block, ...]) -> list[tuple[float, Drive]]:
    """The mixers of the path with their place in the diagram."""
    places = {block.stage: n + 1.0 for n, block in enumerate(blocks)}
    return [(places[d.stage], d) for d in analysis.drives if d.stage in places]


def _spots(at: float, drive: Drive) -> tuple[Spot, Spot]:
    return (
        Spot(at, drive.wanted_dbm, drive.oscillator, filled=False),
        Spot(at, drive.delivered_dbm, drive.oscillator, filled=True),
    )


def _drive_label(at: float, drive: Drive) -> Label:
    name = "VFO" if drive.oscillator == "vfo" else "carrier"
    wants = "" if drive.suits else f", wants {_WANTS.bare(drive.wanted_dbm)}"
    text = f"{name} {_GETS.text(drive)}{wants}"
    return Label(at, drive.delivered_dbm, text, drive.oscillator, side="above_left", importance=2)


def _stages(blocks: tuple[Block, ...], way: Way) -> tuple[tuple[float, str], ...]:
    names = ["ant" if way == "receive" else "mic"]
    names += [KINDS[block.kind].short(block.zone, way) for block in blocks]
    # Two rows of names, so that a long path stays readable in a narrow window.
    return tuple((float(n), name if n % 2 == 0 else f"\n{name}") for n, name in enumerate(names))
