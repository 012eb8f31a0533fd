"""The junk box as it is shown: its counted parts, and what the rig takes of them."""

from core.model.notebook.junk_box import PartOnHand
from core.model.notebook.junk_box_table import cells_of
from core.model.values.notation import format_value
from core.record import record
from core.rig.analysis import Analysis
from core.rig.paper.parts_list import parts_list
from core.rig.paper.stock import Stock

#: A crystal is known to the hertz.
_DIGITS = 9
HEADS = ("Kind", "Value", "To", "Type", "Count", "In this rig", "Note")
#: The columns of a table of parts that are typed in, by the place of their head.
COLUMN_OF = {1: "value", 2: "to", 3: "type", 4: "count", 6: "note"}
HELP = (
    "What it is",
    "Marked frequency, capacitance, diameter of the copper, or voltage of the coil; of a variable capacitor "
    "the least",
    "Largest capacitance of a variable capacitor",
    "Of a capacitor what it is of, of others what is written on it; of a relay what it switches",
    "How many there are; of wire metres",
    "How many of them the parts list of this rig takes",
    "Where it lies, what it came out of",
)
#: By kind, the columns that mean nothing.
_IDLE = {
    "crystal": {2, 3},
    "capacitor": {2},
    "core": {1, 2},
    "wire": {2, 3},
    "transistor": {1, 2},
    "diode": {1, 2},
    "variable_capacitor": {3},
    "relay": {2},
}


@record
class PartLine:
    """A part on hand: its cells under HEADS, and which of them are typed in."""

    part: PartOnHand
    cells: tuple[str, ...]
    typed: frozenset[int]
    short: bool


@record
class JunkBoxPicture:
    """The lines, the switch, and what is told of the whole."""

    lines: tuple[PartLine, ...]
    first: bool
    summary: str


def picture_of(analysis: Analysis) -> JunkBoxPicture:
    """The junk box of a rig."""
    box, stock = analysis.project.junk_box, Stock(analysis.project.junk_box)
    listed = parts_list(analysis, stock)
    lines = tuple(_line(part, taken) for part, taken in zip(box.parts, stock.taken, strict=True))
    on_hand, to_buy = sum(each.on_hand for each in listed), sum(each.to_buy for each in listed)
    told = [f"Of {on_hand + to_buy} parts that this rig still wants, {on_hand} are on hand."]
    for values, unit, what in (
        (box.crystals_hz, "Hz", "crystals"),
        (box.capacitors_f, "F", "capacitors"),
    ):
        if values:
            spelled = ", ".join(format_value(each, unit, 6) for each in values[:12])
            more = f" and {len(values) - 12} more" if len(values) > 12 else ""
            told.append(f"As many as wanted, typed under The rig, of {what} of {spelled}{more}.")
    return JunkBoxPicture(lines, box.first, " ".join(told))


def _line(part: PartOnHand, taken: int) -> PartLine:
    value, to, type, count = cells_of(part, _DIGITS)
    # Wire is measured, not counted.
    counted = part.kind != "wire"
    cells = (part.spelled, value, to, type, count, str(taken) if counted else "", part.note)
    typed = frozenset(COLUMN_OF) - _IDLE[part.kind]
    return PartLine(part, cells, frozenset(typed), counted and taken == part.count)
