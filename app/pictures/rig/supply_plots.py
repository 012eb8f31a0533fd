"""What still works over the supply's voltage, and what is on when between receive and transmit."""

from collections.abc import Sequence

import numpy as np

from app.pictures.figures import NO_CURVE, Curve, Frame, Label, Shape
from core.record import record
from core.rig.analysis import Analysis
from core.rig.sections.supply import KEY_DOWN
from core.rig.supply.sequence import Switching
from core.rig.supply.works import Works, works

#: How high a lane's bar is, of its lane's height.
_BAR = 0.56
#: Lanes that the power amplifier's output takes.
_POWER_LANES = 2.0


@record(kw_only=True)
class LanePicture:
    """Bars in lanes with their names at the side, lines across all of them, and a curve above."""

    names: tuple[tuple[float, str], ...]
    shapes: tuple[Shape, ...]
    lines: tuple[Curve, ...]
    curve: Curve
    held: Curve
    labels: tuple[Label, ...]
    frame: Frame
    note: str = ""


def _bar(lane: int, count: int, span: tuple[float, float], fill: str) -> Shape:
    middle = count - 1 - lane
    return Shape.box(span, (middle - _BAR / 2, middle + _BAR / 2), fill, "soft")


def works_of(analysis: Analysis, held: Analysis | None) -> LanePicture | None:
    """What works over the voltage at the rig, the held design's output dashed."""
    found = works(analysis)
    if found is None:
        return None
    count, low, high = len(found.ranges), float(found.volt[0]), float(found.volt[-1])
    names, shapes = [], []
    for lane, each in enumerate(found.ranges):
        names.append((float(count - 1 - lane), each.name))
        until = high if each.most_v is None else min(each.most_v, high)
        shapes.append(_bar(lane, count, (each.least_v, until), "pass_band"))
    top = count - 1 + (0.6 if found.power_w is None else 0.6 + _POWER_LANES)
    before = None if held is None else works(held)
    most = max(_most_w(found), _most_w(before)) or 1.0
    labels = []
    lines = tuple(Curve.over((volt, volt), (-0.5, top)) for _, volt in found.lines)
    for name, volt in found.lines:
        labels.append(Label(volt, top - 0.15, name, "soft", side="left", importance=1))
    curve = _power(found, count, most)
    if found.power_w is not None:
        names.append((count - 0.5 + _POWER_LANES / 2, "output"))
        for _, volt in found.lines:
            watt = float(np.interp(volt, found.volt, found.power_w))
            at = count - 0.5 + _POWER_LANES * watt / most
            labels.append(Label(volt, at, f"{watt:.2g} W", "curve", side="above_left", importance=2))
    return LanePicture(
        names=tuple(names),
        shapes=tuple(shapes),
        lines=lines,
        curve=curve,
        held=NO_CURVE if before is None else _power(before, count, most),
        labels=tuple(labels),
        frame=Frame((low, high), (-0.5, top), ("works", count)),
        note="Output by the square of the voltage, an estimate." if found.estimated else "",
    )


def _most_w(found: Works | None) -> float:
    return 0.0 if found is None or found.power_w is None else float(found.power_w.max())


def _power(found: Works, count: int, most: float) -> Curve:
    if found.power_w is None:
        return NO_CURVE
    return Curve(found.volt, count - 0.5 + _POWER_LANES * found.power_w / most)


def sequence_of(made: Switching) -> LanePicture:
    """What is on when, in milliseconds from key down."""
    count = len(made.lanes)
    names, shapes = [], []
    for lane, each in enumerate(made.lanes):
        names.append((float(count - 1 - lane), each.name))
        fill = "scatter" if each.name == "power" else "pass_band"
        shapes += [_bar(lane, count, (1e3 * begin, 1e3 * end), fill) for begin, end in each.on]
    ends = (-10.0, 1e3 * made.ends_s)
    marks: Sequence[tuple[float, str]] = ((0.0, "key down"), (1e3 * made.key_up_s, "key up"))
    return LanePicture(
        names=tuple(names),
        shapes=tuple(shapes),
        lines=tuple(Curve.over((at, at), (-0.5, count)) for at, _ in marks),
        curve=NO_CURVE,
        held=NO_CURVE,
        labels=tuple(Label(at, count - 0.25, text, "soft", side="right") for at, text in marks),
        frame=Frame(ends, (-0.5, float(count)), ("sequence", count, ends[1])),
        note="; ".join(f"{figure.title} {figure.text(made)}" for figure in KEY_DOWN[:2]),
    )
