"""Readings against what is expected: a verdict for each, and how far a rig has come."""

from collections.abc import Mapping, Sequence

from core.model.notebook.bench_log import LogReading
from core.model.values.errors import DesignError
from core.model.values.notation import parse
from core.record import record
from core.rig.analysis import Analysis
from core.rig.log.curves import Swept, swept
from core.rig.log.expected import items, points
from core.rig.log.item import Item, Verdict, read_as


@record(kw_only=True)
class Entry:
    """A line of the log: a reading with the item that it is of, or an item that nobody has read yet.

    `number` is the reading's place in the project's log, None without one. `off` [the item's unit] is how far
    it lies from what is expected, and `plus_minus` how far it may.
    """

    item: Item
    reading: LogReading | None
    number: int | None
    verdict: Verdict
    off: float = 0.0
    plus_minus: float = 0.0

    @property
    def read(self) -> str:
        """The reading as it is written."""
        if self.reading is None:
            return ""
        return self.item.text(self.reading.value, self.reading.unit)


@record(kw_only=True)
class Progress:
    """How many of what a rig or a stage is brought up by are within, out, and not yet measured."""

    name: str
    within: int = 0
    out: int = 0
    missing: int = 0

    @property
    def whole(self) -> int:
        """All of them."""
        return self.within + self.out + self.missing

    @property
    def words(self) -> str:
        """The same in words: `3 of 8 within, 1 out`."""
        out = f", {self.out} out" if self.out else ""
        return f"{self.within} of {self.whole} within{out}"


@record(kw_only=True)
class BenchLog:
    """The whole log of a rig: entries stage by stage, curves, progress of the rig and by stage, the points of
    each path by direction and band, and all that can be read.
    """

    entries: tuple[Entry, ...]
    curves: tuple[Swept, ...]
    whole: Progress
    stages: tuple[Progress, ...]

    paths: Mapping[tuple[str, str], tuple[Item, ...]]
    known: tuple[Item, ...]

    def latest(self, item: Item) -> Entry | None:
        """The entry of the last reading of an item; None where nobody has read it."""
        read = (each for each in reversed(self.entries) if each.item.place == item.place and each.reading)
        return next(read, None)

    def along(self, way: str, band: str) -> tuple[Item, ...]:
        """The points of a path in a direction on a band, in the order of the signal; none without a way."""
        return self.paths.get((way, band), ())


def bench_log(analysis: Analysis) -> BenchLog:
    """The log of a rig: what a rig is brought up by whether it was read or not, and all that was read.

    Several readings of one item stand below one another, the latest last; it alone counts for progress. A
    measured curve counts too, as one thing more that was read.
    """
    log = analysis.project.log
    known = items(analysis)
    readings: dict[tuple[str, ...], list[int]] = {}
    for n, reading in enumerate(log):
        readings.setdefault(reading.place, []).append(n)
    entries: list[Entry] = []
    for item in known:
        numbers = readings.pop(item.place, [])
        entries += [_entry(item, log[n], n) for n in numbers]
        if not numbers and item.sought:
            entries.append(Entry(item=item, reading=None, number=None, verdict="not yet measured"))
    for numbers in readings.values():
        entries += [_lost(analysis, log[n], n) for n in numbers]
    curves = swept(analysis)
    return BenchLog(
        entries=tuple(entries),
        curves=curves,
        whole=_progress("The rig", entries, curves),
        stages=_by_stage(entries, curves),
        paths=_paths(analysis),
        known=known,
    )


def _paths(analysis: Analysis) -> dict[tuple[str, str], tuple[Item, ...]]:
    paths: dict[tuple[str, str], tuple[Item, ...]] = {}
    for each in points(analysis):
        if each.way and each.band and each.unit == "dBm":
            paths[each.way, each.band] = (*paths.get((each.way, each.band), ()), each)
    return paths


def _entry(item: Item, reading: LogReading, number: int) -> Entry:
    plus_minus = item.plus_minus
    try:
        off = item.off(reading.value, reading.unit)
        if reading.plus_minus is not None:
            plus_minus = _tolerance(item, reading)
    except DesignError:
        return Entry(item=item, reading=reading, number=number, verdict="no longer expected")
    verdict: Verdict = "within" if _good(item, off, plus_minus) else "out"
    if item.value is None:
        verdict = "no longer expected"
    return Entry(item=item, reading=reading, number=number, verdict=verdict, off=off, plus_minus=plus_minus)


def _good(item: Item, off: float, plus_minus: float) -> bool:
    # A float's last digit is no reason to look for a fault.
    slack = plus_minus * (1 + 1e-9)
    return (off >= -slack or item.at_most) and (off <= slack or item.at_least)


def _tolerance(item: Item, reading: LogReading) -> float:
    """A reading's own tolerance in the unit of its item; of a level in volts or watts the larger side."""
    assert reading.plus_minus is not None
    if reading.unit in ("", item.unit):
        return reading.plus_minus
    here = item.in_unit(reading.value, reading.unit)
    ends = [reading.value + reading.plus_minus, reading.value - reading.plus_minus]
    return max(abs(item.in_unit(end, reading.unit) - here) for end in ends if end > 0)


def _lost(analysis: Analysis, reading: LogReading, number: int) -> Entry:
    """A reading of what the rig no longer has."""
    names = {stage.id: stage.name for stage in analysis.project.stages}
    item = Item(
        about=reading.about,
        stage=reading.stage,
        name=names.get(reading.stage, reading.stage or "The rig"),
        key=reading.key,
        words=reading.key,
        unit=reading.unit,
        value=None,
        plus_minus=0.0,
        way=reading.way,
        band=reading.band,
        help="The design has nothing of this kind any more, so nothing is expected.",
    )
    return Entry(item=item, reading=reading, number=number, verdict="no longer expected")


def _progress(name: str, entries: Sequence[Entry], curves: Sequence[Swept]) -> Progress:
    last: dict[tuple[str, ...], Verdict] = {}
    for each in entries:
        if each.item.sought:
            last[each.item.place] = each.verdict
    found = [*last.values(), *(each.verdict for each in curves)]
    return Progress(
        name=name,
        within=found.count("within"),
        out=found.count("out"),
        missing=found.count("not yet measured"),
    )


def _by_stage(entries: Sequence[Entry], curves: Sequence[Swept]) -> tuple[Progress, ...]:
    names: dict[str, str] = {each.item.stage: each.item.name for each in entries if each.item.sought}
    names |= {each.curve.stage: each.name for each in curves}
    return tuple(
        _progress(
            name,
            [each for each in entries if each.item.stage == stage],
            [each for each in curves if each.curve.stage == stage],
        )
        for stage, name in names.items()
    )


def reading_of(item: Item, text: str, date: str, *, plus_minus: str = "", note: str = "") -> LogReading:
    """A reading of an item from what was typed; `DesignError` with one sentence where it is none.

    A tolerance may be a share of the reading, `5 %`.
    """
    value, unit = read_as(item, text)
    item.in_unit(value, unit)
    about, stage, key, way, band = item.place
    return LogReading.checked(
        date=date,
        about=about,
        stage=stage,
        key=key,
        way=way,
        band=band,
        value=value,
        unit=unit,
        plus_minus=_tolerance_in(item, plus_minus, value, unit),
        note=note,
    )


def with_value(item: Item, reading: LogReading, text: str) -> LogReading:
    """A reading corrected; its own tolerance stays while the unit does. `DesignError` as `reading_of`."""
    corrected = reading_of(item, text, reading.date, note=reading.note)
    if corrected.unit != reading.unit:
        return corrected
    return corrected.edited(("plus_minus",), reading.plus_minus)


def with_tolerance(item: Item, reading: LogReading, text: str) -> LogReading:
    """A reading with another tolerance, empty for the usual one; `DesignError` as `reading_of`."""
    return reading.edited(("plus_minus",), _tolerance_in(item, text, reading.value, reading.unit))


def _tolerance_in(item: Item, text: str, value: float, unit: str) -> float | None:
    typed = text.strip().removeprefix("±").strip()
    if not typed:
        return None
    if typed.endswith("%"):
        within = parse(typed, "%") * abs(value)
    elif unit.startswith("dB"):
        # How far a level may be off is decibels, whatever it is over.
        within = parse(typed.removesuffix("m").removesuffix("c"), "dB")
    else:
        within, of = read_as(item, typed)
        if of != unit:
            raise DesignError(f"The tolerance wants the unit of the reading, {unit or 'a plain number'}.")
    if within < 0:
        raise DesignError("A tolerance is how far a reading may be off to either side; leave the sign out.")
    return within
