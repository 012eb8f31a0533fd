"""A filter's schematic as SVG, drawn from the very network that the solver solved."""

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from types import MappingProxyType

import schemdraw
import schemdraw.elements as elm

from app.sheet.sketches.svg_text import as_text, plain_text
from core.circuits.ladder import Arm, Coupled, Network, Part, Transformer
from core.model.values.notation import format_value, significant

_ELEMENTS = {
    "resistor": elm.ResistorIEC,
    "inductor": elm.Inductor2,
    "capacitor": elm.Capacitor,
    "crystal": elm.Crystal,
}
#: Length of one part in the drawing's units, and how far a shunt arm hangs down.
_LENGTH = 2.2
#: From one row to the next, and how much further where parts stand above each other in the line.
_PITCH, _RISE = 4.4, 2.0
#: Series positions after which a long filter goes on in a new row.
_ROW = 11


#: Longer labels are shortened, lest they lie over their neighbours; the parts list has them.
_LONGEST = 9
#: A label, of the crystal that stands at a reference.
Labels = Mapping[str, str]
NO_LABELS: Labels = MappingProxyType({})


def schematic_svg(
    network: Network,
    ink: str = "#2b2620",
    soft: str = "#6a6055",
    font_size: float = 11.0,
    *,
    labels: Labels = NO_LABELS,
) -> str:
    """SVG text of a network between its end resistances; `ink` draws wires, `soft` writes values.

    `labels` tell which measured crystal stands where, by reference.

    Long filters continue in further rows, joined by numbered ends. The text stays text. Networks that
    look alike are drawn once: a turn of the IF changes no drawing.
    """
    short = {
        ref: label if len(label) <= _LONGEST else f"{label[: _LONGEST - 1]}…" for ref, label in labels.items()
    }
    return _drawn(_as_drawn(network, short), ink, soft, font_size)


def _as_drawn(network: Network, labels: Labels) -> Network:
    """The network reduced to what the drawing shows: topology, references, labels, values to three digits."""

    def part(each: Part) -> Part:
        if each.kind == "crystal":
            label = labels.get(each.ref)
            return Part(f"{each.ref}\n{as_text(label)}" if label else each.ref, each.kind, 0.0)
        return Part(each.ref, each.kind, significant(each.value, 3))

    arms = tuple(
        arm if isinstance(arm, Transformer) else replace(arm, parts=tuple(part(each) for each in arm.parts))
        for arm in network.arms
    )
    return replace(network, arms=arms)


@lru_cache(maxsize=64)
def _drawn(network: Network, ink: str, soft: str, font_size: float) -> str:
    schemdraw.use("svg")
    drawing = schemdraw.Drawing(show=False, canvas="svg")
    drawing.config(fontsize=font_size, font="sans-serif", color=ink, lw=1.1, unit=_LENGTH, margin=0.2)
    rows = _rows(network)
    down = 0.0
    for number, arms in enumerate(rows):
        if number:
            down -= _PITCH + (_RISE if any(_is_loop(arm) for arm in arms) else 0.0)
        _draw_row(drawing, network, arms, (number, len(rows), down), soft)
    return plain_text(drawing.get_imagedata("svg").decode(), font_size)


#: What a filter is a row of.
_Arm = Arm | Transformer | Coupled


def _rows(network: Network) -> list[list[_Arm]]:
    """The arms in rows of about equal length, broken before a series arm."""
    series = sum(1 for arm in network.arms if not (isinstance(arm, Arm) and arm.position == "shunt"))
    wanted = -(-series // _ROW) or 1
    most = -(-series // wanted)
    rows: list[list[_Arm]] = [[]]
    count = 0
    for arm in network.arms:
        is_series = not (isinstance(arm, Arm) and arm.position == "shunt")
        if is_series and count == most:
            rows.append([])
            count = 0
        count += is_series
        rows[-1].append(arm)
    return rows


def _draw_row(
    drawing: schemdraw.Drawing,
    network: Network,
    arms: list[_Arm],
    place: tuple[int, int, float],
    soft: str,
) -> None:
    """One row of the drawing: `place` is its number, how many there are, and its height."""
    row, rows, down = place
    _go(drawing, (0, down))
    if row == 0:
        drawing.add(elm.Dot(open=True).label(_resistance(network.source_ohm), loc="left", color=soft))
    else:
        drawing.add(elm.Dot(open=True).label(str(row), loc="left", color=soft))
    drawing.add(elm.Line().right().length(0.5))
    after_shunt = False
    for arm in arms:
        if not isinstance(arm, Arm):
            _coils(drawing, arm, soft)
            after_shunt = False
        elif arm.position == "series":
            _series(drawing, arm, soft)
            after_shunt = False
        else:
            if after_shunt:
                drawing.add(elm.Line().right().length(_LENGTH * 0.7))
            _shunt(drawing, arm, soft)
            after_shunt = True
    drawing.add(elm.Line().right().length(0.5))
    last = row == rows - 1
    drawing.add(
        elm.Dot(open=True).label(
            _resistance(network.load_ohm) if last else str(row + 1), loc="right", color=soft
        )
    )


def _is_loop(arm: _Arm) -> bool:
    """Whether parts of the line are drawn above each other."""
    return (
        isinstance(arm, Arm)
        and arm.position == "series"
        and arm.joined == "in_parallel"
        and len(arm.parts) > 1
    )


def _resistance(ohm: float) -> str:
    return format_value(ohm, "Ω", 3)


def _value(part: Part) -> str:
    if part.kind == "crystal":
        return ""
    return format_value(part.value, {"resistor": "Ω", "inductor": "H", "capacitor": "F"}[part.kind], 3)


def _labelled(element: elm.Element, part: Part, soft: str) -> elm.Element:
    """Reference and value above a part that lies in the line."""
    return element.label(f"{part.ref}\n{_value(part)}".strip(), loc="top", ofst=0.12, color=soft)


def _series(drawing: schemdraw.Drawing, arm: Arm, soft: str) -> None:
    if not _is_loop(arm):
        for part in arm.parts:
            drawing.add(_labelled(_ELEMENTS[part.kind]().right().length(_LENGTH), part, soft))
        return
    start = drawing.here
    upper, lower = arm.parts[0], arm.parts[1]
    drawing.add(_labelled(_ELEMENTS[upper.kind]().right().length(_LENGTH), upper, soft))
    end = drawing.here
    drawing.push()
    _go(drawing, start)
    drawing.add(elm.Line().up().length(_RISE))
    drawing.add(_labelled(_ELEMENTS[lower.kind]().right().length(_LENGTH), lower, soft))
    drawing.add(elm.Line().down().length(_RISE))
    drawing.pop()
    _go(drawing, end)


def _shunt(drawing: schemdraw.Drawing, arm: Arm, soft: str) -> None:
    drawing.add(elm.Dot())
    here = drawing.here
    if arm.joined == "in_parallel" and len(arm.parts) > 1:
        for position, part in enumerate(arm.parts):
            if position:
                drawing.add(elm.Line().right().length(_LENGTH * 0.75))
                drawing.add(elm.Dot())
            _hang(drawing, (part,), soft)
        drawing.add(elm.Line().right().length(_LENGTH * 0.45))
    else:
        _hang(drawing, arm.parts, soft)
        _go(drawing, here)


def _hang(drawing: schemdraw.Drawing, parts: tuple[Part, ...], soft: str) -> None:
    """Parts from the line down to ground, coming back to the line."""
    drawing.push()
    drawing.add(elm.Line().down().length(0.45))
    for part in parts:
        element = _ELEMENTS[part.kind]().down().length(_LENGTH * 0.8)
        text = f"{part.ref}\n{_value(part)}".strip()
        drawing.add(element.label(text, loc="bottom", ofst=0.14, halign="left", valign="center", color=soft))
    drawing.add(elm.GroundSignal())
    drawing.pop()


def _coils(drawing: schemdraw.Drawing, arm: Transformer | Coupled, soft: str) -> None:
    """Two windings side by side, what they are above; further from their neighbours where they are coils,
    beside which capacitors hang.
    """
    start, aside = drawing.here, isinstance(arm, Coupled)
    if isinstance(arm, Coupled):
        near, far, coupling = arm.parts
        told = f"{coupling.ref} {coupling.value:.3g}\n{near.ref} {_value(near)}\n{far.ref} {_value(far)}"
    else:
        told = f"{arm.ref}\n{_ratio(arm.ratio)}"
    drawing.add(elm.Line().right().length(0.8 * _LENGTH if aside else 0.4))
    box = drawing.add(elm.Transformer(t1=4, t2=4, core=not aside).anchor("p1").label(told, color=soft))
    for anchor in (box.p2, box.s2):
        _go(drawing, anchor)
        drawing.add(elm.GroundSignal())
    _go(drawing, (box.s1[0], start[1]))
    drawing.add(elm.Line().right().length(0.4 * _LENGTH if aside else 0.4))


def _go(drawing: schemdraw.Drawing, place: tuple[float, float]) -> None:
    """Go on drawing from `place`, to the right."""
    drawing.move_from(schemdraw.util.Point(place), theta=0)


def _ratio(ratio: float) -> str:
    """Turns as small whole numbers when they are: `10:9`."""
    for secondary in range(1, 13):
        primary = ratio * secondary
        if abs(primary - round(primary)) < 1e-6 * primary and round(primary) >= 1:
            return f"{round(primary)}:{secondary}"
    return f"{ratio:.3f}:1" if ratio >= 1 else f"1:{1 / ratio:.3f}"
