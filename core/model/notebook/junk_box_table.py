"""Parts on hand as a table that builders keep and exchange: CSV in and out."""

import csv
from collections.abc import Callable, Mapping, Sequence
from io import StringIO
from typing import Any, get_args

from core.model.notebook.junk_box import (
    KINDS,
    MOST_ON_HAND,
    CapacitorOnHand,
    CoreOnHand,
    CrystalOnHand,
    DiodeOnHand,
    OnHandType,
    PartOnHand,
    RelayOnHand,
    TransistorOnHand,
    VariableOnHand,
    WireOnHand,
)
from core.model.stages.tank import CapacitorType
from core.model.values.errors import DesignError
from core.model.values.notation import is_bare, parse, plain
from core.model.values.tables import Row, plain_lines, read_table
from core.model.values.wording import shortened, visible
from core.record import record

#: The columns, in the order in which they are written; only the first must be there.
COLUMNS = ("kind", "value", "to", "type", "count", "note")
#: A text longer than this is no table of a junk box, letters.
MOST_LETTERS = 500_000
#: The unit in which a value of an SI unit is written, and the power of ten between.
_WRITTEN = {"Hz": ("MHz", -6), "F": ("pF", 12), "m": ("mm", 3), "V": ("V", 0)}
#: What a spreadsheet would compute.
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "'")


@record
class Problem:
    """Why a line of a table is no part on hand."""

    line: int
    reason: str

    def __str__(self) -> str:
        return f"Line {self.line}: {self.reason}"


@record
class ReadTable:
    """The parts in a table, and the lines of it that are none, each with its reason."""

    parts: tuple[PartOnHand, ...]
    problems: tuple[Problem, ...]


def parts_in(text: str) -> ReadTable:
    """The parts on hand in a CSV text with a header row, a line a part.

    Columns: `kind` (crystal, capacitor, core, wire, transistor, diode, variable capacitor, relay), `value`
    with its unit, there or in brackets in the header, `to` (the other end of a variable capacitor's range),
    `type`, `count` (of wire metres) and `note`. Parted by commas, semicolons or tabs; a decimal comma wants
    one of the last two, or quotation marks. A mark of byte order is passed over. `DesignError` with one
    sentence when the text is no such table at all.
    """
    wanted = {name if name == "kind" else f"?{name}": "" for name in COLUMNS}
    parts: list[PartOnHand] = []
    problems: list[Problem] = []
    for row in read_table(plain_lines(text, MOST_LETTERS), wanted, MOST_ON_HAND):
        try:
            parts.append(_part(row))
        except DesignError as error:
            problems.append(Problem(row.line, str(error)))
    return ReadTable(tuple(parts), tuple(problems))


def part_of(cells: Mapping[str, str]) -> PartOnHand:
    """The part that texts in these columns mean, as in a line of a table; a number without a unit is in the
    one in which such a value is written. `DesignError` with one sentence.
    """
    with_units = {name: cells.get(name, "").strip() for name in COLUMNS}
    unit = _UNIT_OF.get(_plain_word(with_units["kind"]), "")
    for name in ("value", "to"):
        if unit and with_units[name] and is_bare(with_units[name]):
            with_units[name] = f"{with_units[name]} {_WRITTEN[unit][0]}"
    return _read(with_units)


def _part(row: Row) -> PartOnHand:
    return _read(row.texts(COLUMNS))


def _read(cells: dict[str, str]) -> PartOnHand:
    reader = _READERS.get(_plain_word(cells["kind"]))
    if reader is None:
        known = ", ".join(each.spelled for each in KINDS)
        given = shortened(visible(cells["kind"])) or "An empty cell"
        raise DesignError(f"{given} is no kind of part; write one of {known}.")
    return reader(cells)


def _plain_word(text: str) -> str:
    return text.strip().casefold().replace("_", " ").removesuffix("s")


def _value(cells: dict[str, str], column: str, unit: str) -> float:
    text = cells[column]
    example = {"Hz": "9 MHz", "F": "82 pF", "m": "0.4 mm", "V": "12 V"}[unit]
    if not text:
        raise DesignError(f"The column {column} is empty; write for instance {example}.")
    if is_bare(text):
        raise DesignError(f"{shortened(visible(text))} has no unit; write for instance {example}.")
    return parse(text, unit)


def _count(cells: dict[str, str]) -> int:
    text = cells["count"]
    if not text:
        return 1
    if not text.isdecimal() or len(text) > 9:
        raise DesignError(f"{shortened(visible(text))} is no whole number of pieces; write for instance 10.")
    return int(text)


def _typed(cells: dict[str, str], what: str) -> str:
    if not cells["type"]:
        raise DesignError(f"The column type is empty; write {what}.")
    return cells["type"]


def _common(cells: dict[str, str]) -> dict[str, Any]:
    return {"count": _count(cells), "note": cells["note"]}


def _crystal(cells: dict[str, str]) -> PartOnHand:
    return CrystalOnHand.checked(frequency_hz=_value(cells, "value", "Hz"), **_common(cells))


def _capacitor(cells: dict[str, str]) -> PartOnHand:
    farad = _value(cells, "value", "F")
    return CapacitorOnHand.checked(capacitance_f=farad, type=_type(cells["type"]), **_common(cells))


def _type(text: str) -> str:
    word = text.casefold().replace(" ", "_").split("_(")[0]
    if not word:
        return "c0g"
    names = {**dict.fromkeys(_TYPES), "np0": "c0g", "npo": "c0g", "mica": "silver_mica"}
    if word not in names:
        raise DesignError(
            f"{shortened(visible(text))} is no kind of capacitor that is told apart here; write one of "
            f"{', '.join(each.replace('_', ' ') for each in _TYPES)}."
        )
    return names[word] or word


#: Every kind of capacitor by its word.
_TYPES: tuple[str, ...] = (*get_args(CapacitorType), "other")
assert set(_TYPES) == {word for option in get_args(OnHandType) for word in get_args(option)}


def _core(cells: dict[str, str]) -> PartOnHand:
    return CoreOnHand.checked(core=_typed(cells, "its designation, for instance T50-6"), **_common(cells))


def _wire(cells: dict[str, str]) -> PartOnHand:
    diameter_m = _value(cells, "value", "m")
    length_m = parse(cells["count"], "m") if cells["count"] else 10.0
    return WireOnHand.checked(diameter_m=diameter_m, length_m=length_m, note=cells["note"])


def _transistor(cells: dict[str, str]) -> PartOnHand:
    device = _typed(cells, "what stands on it, for instance 2N3904")
    return TransistorOnHand.checked(device=device, **_common(cells))


def _diode(cells: dict[str, str]) -> PartOnHand:
    device = _typed(cells, "what stands on it, for instance 1N4148")
    return DiodeOnHand.checked(device=device, **_common(cells))


def _variable(cells: dict[str, str]) -> PartOnHand:
    low_f, high_f = _value(cells, "value", "F"), _value(cells, "to", "F")
    return VariableOnHand.checked(low_f=low_f, high_f=high_f, **_common(cells))


def _relay(cells: dict[str, str]) -> PartOnHand:
    coil_v = _value(cells, "value", "V")
    return RelayOnHand.checked(coil_v=coil_v, contacts=cells["type"], **_common(cells))


_READERS: dict[str, Callable[[dict[str, str]], PartOnHand]] = {
    "crystal": _crystal,
    "capacitor": _capacitor,
    "core": _core,
    "wire": _wire,
    "transistor": _transistor,
    "diode": _diode,
    "variable capacitor": _variable,
    "relay": _relay,
}


#: The unit of a kind's value.
_UNIT_OF = {
    "crystal": "Hz",
    "capacitor": "F",
    "wire": "m",
    "variable capacitor": "F",
    "relay": "V",
}


def merged(parts: Sequence[PartOnHand], more: Sequence[PartOnHand]) -> tuple[PartOnHand, ...]:
    """The parts with `more`; what is there already gets the count and the note that it has there."""
    found = {_identity(each): each for each in parts}
    found.update({_identity(each): each for each in more})
    return tuple(found.values())


def _identity(part: PartOnHand) -> tuple[object, ...]:
    same = part.model_dump(exclude={"count", "note", "length_m"})
    return tuple(same.items())


def table_of(parts: Sequence[PartOnHand]) -> str:
    """The parts as CSV with a header row, from which `parts_in` makes the same again."""
    text = StringIO()
    lines = csv.writer(text, lineterminator="\n")
    lines.writerow(COLUMNS)
    for each in parts:
        lines.writerow([each.spelled, *(guarded(cell) for cell in (*cells_of(each), each.note))])
    return text.getvalue()


def cells_of(part: PartOnHand, digits: int | None = None) -> tuple[str, str, str, str]:
    """Value, other end of the range, type and count of a part, as a table has them: to `digits` significant
    digits, or so many as they have.
    """

    def written(value: float, unit: str) -> str:
        shown, power = _WRITTEN[unit]
        return f"{plain(value, digits, power)} {shown}"

    pieces = str(part.count)
    match part:
        case CrystalOnHand():
            return written(part.frequency_hz, "Hz"), "", "", pieces
        case CapacitorOnHand():
            return written(part.capacitance_f, "F"), "", spelled_type(part.type), pieces
        case CoreOnHand():
            return "", "", part.core, pieces
        case WireOnHand():
            return written(part.diameter_m, "m"), "", "", f"{plain(part.length_m, digits)} m"
        case TransistorOnHand() | DiodeOnHand():
            return "", "", part.device, pieces
        case VariableOnHand():
            return written(part.low_f, "F"), written(part.high_f, "F"), "", pieces
        case RelayOnHand():
            return written(part.coil_v, "V"), "", part.contacts, pieces


def spelled_type(word: str) -> str:
    """A kind of capacitor as it is written: `C0G`, `silver mica`."""
    short = word[:1] + word[1:].rstrip("g")
    return word.upper() if short.strip("cnp").isdecimal() else word.replace("_", " ")


def guarded(words: str) -> str:
    """A cell of text. A spreadsheet computes what begins like a formula, which the mark before it stops."""
    return f"'{words}" if words.startswith(_FORMULA) else words
