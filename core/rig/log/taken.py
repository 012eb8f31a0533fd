"""A reading taken into the design: as the value of a part as built, or instead of a computed figure."""

from collections.abc import Mapping

from core.model.stages.stage import Way
from core.model.values.base import Path
from core.model.values.notation import significant
from core.rig.analysis import Analysis
from core.rig.findings import Edit
from core.rig.log.bench_log import BenchLog, Entry
from core.rig.log.causes import before_of
from core.rig.log.item import Item
from core.rig.log.supply import taken_of_supply
from core.rig.plan.frequency_plan import sideband_at_if
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved

#: Figures of a mixer to the fields that take readings of them.
_MIXER: Mapping[str, str] = {
    "gain_db": "gain_db",
    "noise_figure_db": "noise_figure_db",
    "iip3_dbm": "iip3_dbm",
    "p1db_in_dbm": "p1db_in_dbm",
    "balance_db": "measured_balance_db",
}
#: Points to the fields of the rig that state what is there.
_STATED: Mapping[tuple[str, str], Path] = {
    ("supply", "rail"): ("station", "supply_v"),
    ("vfo", "output"): ("vfo", "output_dbm"),
    ("carrier", "output"): ("carrier", "output_dbm"),
    ("microphone", "socket"): ("microphone", "peak_dbm"),
}


def taking(analysis: Analysis, log: BenchLog, entry: Entry) -> Edit | Unsolved:
    """The edit that takes a reading into the design, or why none does."""
    item, reading = entry.item, entry.reading
    if reading is None or entry.verdict == "no longer expected":
        return Unsolved("There is no reading here to be taken into the design.")
    value = item.in_unit(reading.value, reading.unit)
    path = _STATED.get((item.stage, item.key)) if item.about == "point" else None
    if path is not None:
        return _edit(analysis, item, path, value)
    if item.stage == "supply":
        return taken_of_supply(analysis, item, value)
    if item.about == "part":
        return _as_built(analysis, item, value)
    if item.stage == "carrier" and item.key == "frequency_hz":
        return _carrier(analysis, item, value)
    stage = next((each for each in analysis.project.stages if each.id == item.stage), None)
    if stage is None:
        return _none(item)
    kind = kind_of(stage)
    mixes = kind.driver(stage) is not None
    if mixes and item.about == "figure" and item.key in _MIXER:
        return _edit(analysis, item, ("stages", stage.id, _MIXER[item.key]), value)
    if item.about == "figure" and item.key in kind.measured:
        return _edit(analysis, item, ("stages", stage.id, kind.measured[item.key]), value)
    ways: tuple[Way, ...] = ("transmit",) if item.way == "transmit" else ("receive", "transmit")
    # What is asked of a circuit would be designed for, which mends no reading of it.
    stated = kind.gains if kind.making is None else {}
    fields = [kind.measured_gains.get(way) or stated.get(way) for way in ways]
    field = next((each for each in fields if each), "gain_db" if mixes else None)
    if item.about == "figure" and item.key == "gain_db" and field:
        return _edit(analysis, item, ("stages", stage.id, field), value)
    if item.about == "point" and item.unit == "dBm" and item.key == "output" and item.way and field:
        before = before_of(log, item)
        came = None if before is None else log.latest(before)
        if (
            came is None
            or came.reading is None
            or before is None
            or before.value is None
            or item.value is None
        ):
            first = "the place before it" if before is None else before.title
            return Unsolved(f"Read {first} too: only both tell the gain of {item.name}.")
        gain_db = value - came.item.in_unit(came.reading.value, came.reading.unit)
        return _edit(analysis, item, ("stages", stage.id, field), gain_db)
    return _none(item)


def _none(item: Item) -> Unsolved:
    return Unsolved(
        f"Nothing in the design is stated as {item.title}: it follows from parts. Take a part as built that "
        "explains it, or read a sweep."
    )


def _edit(analysis: Analysis, item: Item, path: Path, value: float) -> Edit | Unsolved:
    # More digits than anybody can measure would only be read.
    value = significant(value, 9) if item.unit == "Hz" else significant(value, 4)
    edit = Edit(f"{item.title} as read", ((path, value),))
    if edit.tried_on(analysis.project) is None:
        return Unsolved(f"{item.title} of {item.text(value)} is beyond what the design allows; read again.")
    return edit


def _as_built(analysis: Analysis, item: Item, value: float) -> Edit | Unsolved:
    path: Path = ("vfo", "tank", "as_built")
    if item.stage != "vfo":
        row = next(
            (
                each
                for each in (*analysis.circuits, *analysis.oscillators)
                if each.stage == item.stage and item.band in ("", *each.bands)
            ),
            None,
        )
        if row is None:
            return _none(item)
        path = (*row.path, "as_built")
    values = {**dict(analysis.project.at(path)), item.key: value}
    edit = Edit(f"{item.name}: {item.words} as built", ((path, values),))
    if edit.tried_on(analysis.project) is None:
        return Unsolved(f"{item.words} of {item.name} is no part whose value as built can be given.")
    return edit


def _carrier(analysis: Analysis, item: Item, value: float) -> Edit | Unsolved:
    if analysis.project.read_out is None:
        return Unsolved("The carrier as measured counts in the read-out, and this rig has none.")
    side = sideband_at_if(analysis.project.band(item.band))
    return _edit(analysis, item, ("read_out", f"carrier_{side}_hz"), value)
