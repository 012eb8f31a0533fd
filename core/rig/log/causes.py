"""Why a reading is out: the parts of a stage one of which alone would explain it, and by how much.

Every part is turned by itself while all others stay as they are, and the very figure that was read is
computed again: so it is for a filter, an amplifier, the VFO or whatever else is made of parts. What a
transistor's current gain does is told to the first order (`core.stages.amplifiers.sensitivity`).
"""

from collections.abc import Iterator, Mapping
from itertools import pairwise
from math import exp, log

from core.model.project import Project
from core.model.values.base import Path
from core.model.values.notation import format_value
from core.record import record
from core.rig.amplifier_facts import amplifier_facts, sensitivities
from core.rig.analysis import Analysis
from core.rig.built import measured
from core.rig.log.bench_log import BenchLog, Entry
from core.rig.log.curves import Swept
from core.rig.log.expected import PART_SHARES, value_of
from core.rig.log.item import Item
from core.stages.amplifiers.sensitivity import TOLD
from core.stages.outcome import PartRow, Unsolved
from core.stages.steps import Steps, finished
from core.stages.vfo import tank_design
from core.stages.vfo.tank import TankDesign

#: How far a part is turned to see what it does, times [-]; of a crystal shares of its frequency [-].
_TURNS = (0.1, 0.33, 0.67, 0.85, 0.95, 1.05, 1.2, 1.5, 3.0, 10.0)
_CRYSTAL_SHARES = (-300e-6, -100e-6, -20e-6, 20e-6, 100e-6, 300e-6)
#: What a transistor's current gain may be off without being a fault [-], and how far it is looked at.
_BETA_SHARE, _MOST_BETA = 0.5, 3.0
#: So many causes are told, found so exactly [-].
_MOST_TOLD, _EXACT, _ROUNDS = 6, 0.02, 8
#: What a reading must differ by from what is expected to have a cause at all, of what it may [-].
_LEAST = 1e-6


@record(kw_only=True)
class Cause:
    """A part that alone would explain a reading: what it is taken for and what it would have to be [`unit`],
    by how much it is then off [-], and how often its usual tolerance that is [-].
    """

    stage: str
    ref: str
    taken: float
    wanted: float
    unit: str
    off: float
    times: float

    @property
    def words(self) -> str:
        """The cause in words: `C3 at 343 pF instead of 390 pF (−12 %)`."""
        if not self.unit:
            return f"{self.ref} at {1 + self.off:.1f} times what it is taken for"
        if self.unit == "Hz":
            off = self.wanted - self.taken
            return (
                f"{self.ref} resonates {format_value(abs(off), 'Hz', 2)} {'higher' if off > 0 else 'lower'}"
            )
        share = f"{100 * self.off:+.0f} %".replace("-", "−")
        told = (format_value(each, self.unit, 3) for each in (self.wanted, self.taken))
        return f"{self.ref} at {' instead of '.join(told)} ({share})"


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
    circuit = _circuit(analysis, item)
    if circuit is None:
        return Causes(words=_nothing_to_turn(item, before))
    path, rows = circuit
    values = {row.key: row.fitted for row in rows}
    project = analysis.project.tried(path, values)
    now = None if project is None else value_of(Analysis(project), item)
    if project is None or now is None or abs(off) <= _LEAST * max(entry.plus_minus, abs(now)):
        return Causes(words=_nothing_to_turn(item, before))
    found: list[Cause] = []
    for row in rows:
        cause = yield from _turned(project, path, values, row, item, now, now + off)
        if cause is not None:
            found.append(cause)
    found += _gains(analysis, item, off)
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


def _circuit(analysis: Analysis, item: Item) -> tuple[Path, tuple[PartRow, ...]] | None:
    """Where the parts of what was read are as built, and those that have a value."""
    if item.stage == "vfo":
        tank = analysis.tank
        if not isinstance(tank, TankDesign):
            return None
        kept = dict(tank_design.kept(tank).as_built)
        return ("vfo", "tank", "as_built"), tuple(row for row in tank.parts if row.key in kept)
    for row in (*analysis.circuits, *analysis.oscillators):
        if row.stage == item.stage and item.band in ("", *row.bands) and not isinstance(row.design, Unsolved):
            parts = tuple(part for part in row.design.parts if part.kind in PART_SHARES)
            return ((*row.path, "as_built"), parts) if parts else None
    return None


def _turned(
    project: Project,
    path: Path,
    values: Mapping[str, float],
    row: PartRow,
    item: Item,
    now: float,
    wanted: float,
) -> Steps[Cause | None]:
    """By how much a part must be off for what was read; None where it cannot be the cause alone."""

    def at(moved: float) -> float | None:
        """What is read with the part times exp(`moved`)."""
        changed = project.tried(path, {**values, row.key: row.fitted * exp(moved)})
        return None if changed is None else value_of(Analysis(changed), item)

    turns = (
        [log(1 + each) for each in _CRYSTAL_SHARES]
        if row.kind == "crystal"
        else [log(each) for each in _TURNS]
    )
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
            break
        if (found - wanted) * (low[1] - wanted) <= 0:
            high = (moved, found)
        else:
            low = (moved, found)
        # Straight lines, and halves between them, lest one end of a bent curve stays for ever.
        moved = _between(low, high, wanted) if turn % 2 else (low[0] + high[0]) / 2
    else:
        return None
    off = exp(moved) - 1
    return Cause(
        stage=item.stage,
        ref=row.ref,
        taken=row.fitted,
        wanted=row.fitted * (1 + off),
        unit=row.unit,
        off=off,
        times=abs(off) / PART_SHARES[row.kind],
    )


def _between(low: tuple[float, float], high: tuple[float, float], wanted: float) -> float:
    """Where a straight line between two points reaches a value."""
    return low[0] + (high[0] - low[0]) * (wanted - low[1]) / (high[1] - low[1])


#: What a transistor's current gain does to a figure, by the figure's key.
_OF_GAIN = {"gain_db": "gain_db", "noise_figure_db": "noise_db", "output": "gain_db"}


def _gains(analysis: Analysis, item: Item, off: float) -> Iterator[Cause]:
    """Transistors whose current gain would explain a reading, to the first order."""
    attribute = _OF_GAIN.get(item.key)
    if attribute is None or item.stage not in {stage.id for stage in analysis.project.stages}:
        return
    stage = analysis.project.stage(item.stage)
    band = item.band or analysis.project.bands[0].name
    facts = amplifier_facts(analysis, stage, band, "transmit" if item.way == "transmit" else "receive")
    told = Unsolved("") if isinstance(facts, Unsolved) else sensitivities(facts)
    for each in () if isinstance(told, Unsolved) else told:
        does = getattr(each, attribute) if each.what else 0.0
        share = off * TOLD / does if does else 0.0
        if does and -0.9 < share < _MOST_BETA:
            ref = f"{each.ref}, its {'current gain' if each.what == 'β' else each.what},"
            times = abs(share) / _BETA_SHARE
            yield Cause(
                stage=item.stage, ref=ref, taken=1.0, wanted=1 + share, unit="", off=share, times=times
            )
