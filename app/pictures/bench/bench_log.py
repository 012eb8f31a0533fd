"""The bench log as it is shown: a line for each reading and each thing that is still to be read."""

from core.model.values.quantities import spelled
from core.model.values.wording import visible
from core.record import record
from core.rig.analysis import Analysis
from core.rig.log.bench_log import BenchLog, Entry, Progress, bench_log
from core.rig.log.curves import Swept
from core.rig.log.item import Verdict
from core.rig.log.told import tolerance_text

HEADS = ("Stage", "What", "Expected", "Tolerance", "Read", "Verdict", "Date", "Note")
TOLERANCE, READ, DATE, NOTE = 3, 4, 6, 7
HELP = (
    "The stage, or what else it is read of",
    "A test point, a figure or a part",
    "What the design makes of it now",
    "How far a reading may be off; a reading can have its own, as 5 % or 0.3 V",
    "What was read, typed here; a level in dBm, W, V or Vpp",
    "Within its tolerance or not",
    "Day and time of the reading",
    "What was done",
)
#: What can be looked at alone, by its word.
FILTERS = {
    "": "all",
    "not yet measured": "not yet measured",
    "out": "out of tolerance",
    "within": "within",
    "read": "all that was read",
}
#: A sign before each verdict, so that none is told by its colour alone.
_SIGNS = {
    "within": "✓\u00a0within",
    "out": "✗\u00a0out",
    "not yet measured": "–\u00a0not yet",
    "no longer expected": "?\u00a0gone",
}
_COLOURS = {"within": "good", "out": "fault", "not yet measured": "soft", "no longer expected": "caution"}


@record
class Chosen:
    """What of the log is looked at: a verdict or all, a stage or all."""

    verdict: str = ""
    stage: str = ""


@record(kw_only=True)
class LogLine:
    """A line of the log: its cells under HEADS and what it shows, an entry or a curve."""

    key: tuple[object, ...]
    cells: tuple[str, ...]
    typed: frozenset[int]
    colour: str
    help: str
    entry: Entry | None
    curve: Swept | None = None

    @property
    def told(self) -> str:
        """What a narrow table may have no room for: tolerance, date and note, as sentences."""
        _, _, expected, tolerance, _, _, date, note = self.cells
        parts = [f"Expected {expected} {tolerance}" * bool(tolerance), f"read {date}" * bool(date), note]
        first, *rest = [each for each in parts if each] or [""]
        return "; ".join([f"{first[:1].upper()}{first[1:]}", *rest]) + "." if first else ""

    @property
    def verdict(self) -> Verdict:
        """Whether what it shows is within its tolerance."""
        of = self.entry or self.curve
        assert of is not None  # a line shows one of them
        return of.verdict

    @property
    def read(self) -> bool:
        """Whether it shows something that was read."""
        return self.curve is not None or (self.entry is not None and self.entry.reading is not None)


@record
class LogPicture:
    """The lines on show, and how far the rig and its stages have come."""

    lines: tuple[LogLine, ...]
    whole: Progress
    stages: tuple[Progress, ...]
    chosen: Chosen
    log: BenchLog


def picture_of(analysis: Analysis, chosen: Chosen) -> LogPicture:
    """The log of a rig, as far as it is looked at."""
    log = bench_log(analysis)
    lines = [_line(each, n) for each, n in _numbered(log)]
    lines += map(_swept, log.curves)
    shown = tuple(each for each in lines if _looked_at(each, chosen))
    return LogPicture(shown, log.whole, log.stages, chosen, log)


def _numbered(log: BenchLog) -> list[tuple[Entry, int]]:
    """Each entry with its number among those of the same thing."""
    counts: dict[tuple[str, ...], int] = {}
    found = []
    for each in log.entries:
        n = counts[each.item.place] = counts.get(each.item.place, -1) + 1
        found.append((each, n))
    return found


def _line(entry: Entry, n: int) -> LogLine:
    item, reading = entry.item, entry.reading
    where = ", ".join(filter(None, (item.way, spelled(item.band) if item.band else "")))
    typed = {READ} if reading is None else {TOLERANCE, READ, DATE, NOTE}
    return LogLine(
        key=(*item.place, n),
        cells=(
            item.name,
            f"{item.words}{f', {where}' if where else ''}",
            item.text(item.value),
            tolerance_text(entry),
            entry.read,
            _SIGNS[entry.verdict],
            "" if reading is None else reading.date,
            "" if reading is None else visible(reading.note),
        ),
        typed=frozenset(typed) if entry.verdict != "no longer expected" else frozenset({DATE, NOTE}),
        colour=_COLOURS[entry.verdict] if entry.verdict in ("out", "no longer expected") else "ink",
        help=item.help,
        entry=entry,
    )


def _swept(of: Swept) -> LogLine:
    curve = of.curve
    sign = "?\u00a0unclear" if of.verdict == "no longer expected" else _SIGNS[of.verdict]
    what = f"{of.what[:1].upper()}{of.what[1:]}"
    return LogLine(
        key=("curve", curve.stage, curve.band, curve.way),
        cells=(of.name, what, "as designed", "", curve.label, sign, curve.date, visible(curve.note)),
        typed=frozenset({DATE, NOTE}),
        colour="ink" if of.verdict == "within" else _COLOURS[of.verdict],
        help=f"{of.words[:1].upper()}{of.words[1:]}",
        entry=None,
        curve=of,
    )


def _looked_at(line: LogLine, chosen: Chosen) -> bool:
    if chosen.stage and line.cells[0] != chosen.stage:
        return False
    if not chosen.verdict:
        return True
    return line.read if chosen.verdict == "read" else line.verdict == chosen.verdict
