"""Why a reading is out: the parts of a stage one of which alone would explain it, and by how much.

Every part is turned by itself while all others stay as they are, and the very figure that was read is
computed again: so it is for a filter, an amplifier, the VFO or whatever else is made of parts.
"""

from collections.abc import Mapping
from itertools import pairwise
from math import exp, log

from core.model.project import Project
from core.record import record
from core.rig.analysis import Analysis
from core.rig.built import measured
from core.rig.log.bench_log import BenchLog, Entry
from core.rig.log.curves import Swept
from core.rig.log.expected import value_of
from core.rig.log.item import Item
from core.rig.log.knobs import Cause, Knob, device_causes, knobs_of
from core.stages.steps import Steps, finished

#: How far a part is turned to see what it does, times [-]; of a crystal shares of its frequency [-].
_TURNS = (0.1, 0.33, 0.67, 0.85, 0.95, 1.05, 1.2, 1.5, 3.0, 10.0)
_CRYSTAL_SHARES = (-300e-6, -100e-6, -20e-6, 20e-6, 100e-6, 300e-6)
#: So many causes are told, found so exactly [-].
_MOST_TOLD, _EXACT, _ROUNDS = 6, 0.02, 8
#: What a reading must differ by from what is expected to have a cause at all, of what it may [-].
_LEAST = 1e-6


@record(kw_only=True)
class Causes:
    """What may be behind a reading, the likeliest first, and what to say of it as a whole."""

    words: str
    causes: tuple[Cause, ...] = ()


@record(kw_only=True)
class Why:
    """Why readings and curves are out, by their numbers in the project's log and among its curves."""

    readings: Mapping[int, Causes]
    curves: Mapping[int, Causes]

    @property
    def any(self) -> bool:
        """Whether anything is out."""
        return bool(self.readings or self.curves)


def causes(analysis: Analysis, log: BenchLog, entry: Entry) -> Steps[Causes]:
    """Why a reading is out, a step for every part turned.

    Of a level what was read at the place before counts too: what came in wrong has its cause there. Ranked
    by how many times its usual tolerance a part would have to be off.
    """
    item = entry.item
    if entry.verdict != "out":
        return Causes(words="")
    if item.about == "part":
        return Causes(words=f"{item.words} itself is off: take the reading as built, or change the part.")
    if item.stage == "supply" and item.unit == "V":
        return Causes(words=_along_the_supply(log, entry))
    off, before = entry.off, None
    if item.unit == "dBm" and item.about == "point":
        before = _before(log, item)
        if before is not None and before.reading is not None and before.verdict != "no longer expected":
            off = entry.off - before.off
            if abs(off) <= entry.plus_minus:
                return Causes(
                    words=f"{item.name} does what it should: what comes in is "
                    f"{abs(before.off):.1f} dB too {'much' if before.off > 0 else 'little'} already "
                    f"({before.item.title}); look before it."
                )
    knobs = knobs_of(analysis, item)
    project = analysis.project if not knobs or knobs[0].held is None else _all_as_built(analysis, knobs[0])
    now = None if project is None else value_of(Analysis(project), item)
    small = now is None or abs(off) <= _LEAST * max(entry.plus_minus, abs(now))
    if project is None or now is None or small:
        return Causes(words=_nothing_to_turn(item, before))
    found: list[Cause] = []
    for knob in knobs:
        moved = yield from _turned(project, knob, item, now, now + off)
        if moved is not None:
            found.append(knob.cause(item, analysis, moved))
    found += device_causes(analysis, item, now, off)
    if not knobs and not found:
        return Causes(words=_nothing_to_turn(item, before))
    found.sort(key=lambda each: (each.times, each.ref))
    where = "" if before is None or before.reading is None else ", what comes in being as it was read"
    if not found:
        return Causes(
            words=f"No single part of {item.name} explains this{where}, be it a tenth of its value or ten "
            "times that: look for a wrong or broken part, a short or an open joint, or read again."
        )
    return Causes(words=f"One of these alone would explain it{where}:", causes=tuple(found[:_MOST_TOLD]))


def causes_of_curve(analysis: Analysis, swept: Swept) -> Causes:
    """Which parts explain a curve that is out, and what mends them."""
    if swept.verdict != "out":
        return Causes(words="")
    curve = swept.curve
    band = curve.band or analysis.project.bands[0].name
    return Causes(words=measured.told(analysis, curve.stage, band, curve.way))


def causes_of_all(analysis: Analysis, log: BenchLog) -> Why:
    """Why each reading and each curve is out that is."""
    return Why(
        readings={
            each.number: finished(causes(analysis, log, each))
            for each in log.entries
            if each.verdict == "out" and each.number is not None
        },
        curves={each.number: causes_of_curve(analysis, each) for each in log.curves if each.verdict == "out"},
    )


def _along_the_supply(log: BenchLog, entry: Entry) -> str:
    """What to look at behind a voltage of the supply: what feeds it, then what lies between."""
    item = entry.item
    if item.key == "rail":
        return "It is the supply itself: set it, or take the reading into the design and see what that does."
    feeds = [each for each in log.known if each.stage == "supply" and each.unit == "V"]
    wanted = "rail" if item.key == "rig" else "rig"
    before = next((each for each in feeds if each.key == wanted and each.way in ("", item.way)), None)
    read = None if before is None else log.latest(before)
    if before is None:
        return "Look at what feeds it, and at what lies between."
    if read is None:
        return f"Read {before.title} first: only both tell what lies between."
    if read.verdict == "out":
        way = "high" if read.off > 0 else "low"
        return f"What feeds it is too {way} already ({before.title}, {read.read}); look before it."
    return (
        f"What feeds it is as it should be ({before.title}, {read.read}): look at what lies between, fuse, "
        "diode, switch, regulator and joints, and at what hangs on it."
    )


def _nothing_to_turn(item: Item, before: Entry | None) -> str:
    if item.unit == "dBm" and before is not None and before.reading is None:
        return f"Read {before.item.title} first: only both tell what {item.name} does."
    if not item.stage:
        return "The whole rig makes this figure: read the levels along the path; the first that is out tells."
    return f"{item.name} has no parts in the design that could be turned to explain it; look at it as built."


def before_of(log: BenchLog, item: Item) -> Item | None:
    """The point of the same path and band before this one, as the signal goes; None at its begin."""
    along = log.along(item.way, item.band)
    place = next((n for n, each in enumerate(along) if each.place == item.place), 0)
    return along[place - 1] if place else None


def _before(log: BenchLog, item: Item) -> Entry | None:
    there = before_of(log, item)
    if there is None:
        return None
    return log.latest(there) or Entry(item=there, reading=None, number=None, verdict="not yet measured")


def _all_as_built(analysis: Analysis, knob: Knob) -> Project | None:
    """The rig with every part of a stage as it is taken to be, so that one turned moves no other."""
    return analysis.project.tried(knob.path, knob.held)


def _turned(project: Project, knob: Knob, item: Item, now: float, wanted: float) -> Steps[float | None]:
    """By what share something must be off for what was read; None where it cannot be the cause alone."""

    def at(moved: float) -> float | None:
        """What is read with it times exp(`moved`)."""
        changed = knob.at(project, knob.taken * exp(moved))
        return None if changed is None else value_of(Analysis(changed), item)

    turns = [log(1 + each) for each in _CRYSTAL_SHARES] if knob.unit == "Hz" else list(map(log, _TURNS))
    known: list[tuple[float, float]] = [(0.0, now)]
    for turn in turns:
        found = at(turn)
        yield
        if found is not None:
            known.append((turn, found))
    known.sort()
    spans = [
        (one, other)
        for one, other in pairwise(known)
        if (one[1] - wanted) * (other[1] - wanted) <= 0 and one[1] != other[1]
    ]
    if not spans:
        return None
    low, high = min(spans, key=lambda span: min(abs(span[0][0]), abs(span[1][0])))
    moved = _between(low, high, wanted)
    for turn in range(_ROUNDS):
        found = at(moved)
        yield
        if found is None:
            return None
        if abs(found - wanted) <= _EXACT * abs(wanted - now):
            return exp(moved) - 1
        if (found - wanted) * (low[1] - wanted) <= 0:
            high = (moved, found)
        else:
            low = (moved, found)
        # Straight lines, and halves between them, lest one end of a bent curve stays for ever.
        moved = _between(low, high, wanted) if turn % 2 else (low[0] + high[0]) / 2
    return None


def _between(low: tuple[float, float], high: tuple[float, float], wanted: float) -> float:
    """Where a straight line between two points reaches a value."""
    return low[0] + (high[0] - low[0]) * (wanted - low[1]) / (high[1] - low[1])
