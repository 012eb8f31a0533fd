"""What of a stage may be off when a reading is: parts, figures typed for a device, and the transistors."""

from collections.abc import Iterator, Mapping
from itertools import pairwise
from math import log
from typing import Any

import numpy as np

from core.circuits.active.many import at_rest
from core.circuits.circuit import Bipolar
from core.circuits.ladder import Array
from core.model.project import Project
from core.model.stages.tank import Feedback
from core.model.values.base import Path
from core.model.values.notation import format_value, significant
from core.model.values.parts import key
from core.record import record
from core.rig.amplifier_facts import amplifier_facts, sensitivities
from core.rig.analysis import Analysis
from core.rig.findings import Edit
from core.rig.log.expected import PART_SHARES
from core.rig.log.figures_read import usual_tolerance
from core.rig.log.item import Item
from core.rig.workshop.test_points import Resting
from core.stages.amplifiers.pair import amplifiers_in
from core.stages.amplifiers.sensitivity import TOLD
from core.stages.outcome import PartRow, Unsolved
from core.stages.vfo import oscillator, tank_design
from core.stages.vfo.tank import TankDesign

#: What a transistor's gain or current may be off without being a fault [-], and how far it is looked at,
#: times [-]; points between.
GAIN_SHARE, _LEAST_GAIN, _MOST_GAIN, _POINTS = 0.5, 0.1, 4.0, 121
#: A share below this is told with a decimal [-].
_SMALL = 0.0095


@record(kw_only=True)
class Cause:
    """A part that alone would explain a reading: what it is taken for and what it would have to be [`unit`],
    by how much it is then off [-], and how often its usual tolerance that is [-]. `edit` takes it into the
    design, None where nothing there is stated of it.
    """

    stage: str
    ref: str
    taken: float
    wanted: float
    unit: str
    off: float
    times: float
    edit: Edit | None = None

    @property
    def words(self) -> str:
        """The cause in words: `C3 at 343 pF instead of 390 pF (−12 %)`."""
        if not self.unit:
            return f"{self.ref} at {1 + self.off:.2g} times what it is taken for"
        if self.unit == "Hz":
            off = self.wanted - self.taken
            return (
                f"{self.ref} resonates {format_value(abs(off), 'Hz', 2)} {'higher' if off > 0 else 'lower'}"
            )
        share = f"{100 * self.off:+.{0 if abs(self.off) >= _SMALL else 1}f} %".replace("-", "−")
        told = (format_value(each, self.unit, 3) for each in (self.wanted, self.taken))
        return f"{self.ref} at {' instead of '.join(told)} ({share})"


@record(kw_only=True)
class Knob:
    """Something that is turned by itself: what it is called, its value [`unit`], how far it may usually be
    off [-], and where it stands in a design: a field, or a value as built by its key beside all in `held`.
    """

    ref: str
    taken: float
    unit: str
    share: float
    path: Path
    key: str = ""
    held: Mapping[str, float] | None = None
    #: Whether the design is to have another value of it once it is known.
    taken_in: bool = True

    def at(self, project: Project, value: float) -> Project | None:
        """The rig with another value; None where that cannot be."""
        return project.tried(self.path, value if self.held is None else {**self.held, self.key: value})

    def cause(self, item: Item, analysis: Analysis, off: float) -> Cause:
        """The cause that it is where it is off by a share [-]."""
        wanted = self.taken * (1 + off)
        # More digits than anybody can measure would only be read.
        value = significant(wanted, 9 if self.unit == "Hz" else 4)
        if self.held is not None:
            value_there = {**dict(analysis.project.at(self.path)), self.key: value}
            edit = Edit(f"{item.name}: {self.ref} as built", ((self.path, value_there),))
        else:
            edit = Edit(f"{item.name}: {self.ref}", ((self.path, value),))
        return Cause(
            stage=item.stage,
            ref=self.ref,
            taken=self.taken,
            wanted=wanted,
            unit=self.unit,
            off=off,
            times=abs(off) / self.share,
            edit=edit if self.taken_in else None,
        )


def knobs_of(analysis: Analysis, item: Item) -> tuple[Knob, ...]:
    """All that can be turned of the stage that something is read of; none where nothing can."""
    if item.stage == "vfo":
        tank = analysis.tank
        if not isinstance(tank, TankDesign):
            return ()
        kept = dict(tank_design.kept(tank).as_built)
        rows = tuple(row for row in tank.parts if row.key in kept)
        fed = _fed(("vfo", "tank", "feedback", "supply_v"), tank.tank.feedback.supply_v, item)
        return (*_parts(("vfo", "tank", "as_built"), rows), *_feedback(tank.tank.feedback), *fed)
    for row in (*analysis.circuits, *analysis.oscillators):
        if row.stage == item.stage and item.band in ("", *row.bands) and not isinstance(row.design, Unsolved):
            parts = tuple(part for part in row.design.parts if part.kind in PART_SHARES)
            volt = getattr(analysis.project.at(row.path), "supply_v", None)
            return (*_parts((*row.path, "as_built"), parts), *_fed((*row.path, "supply_v"), volt, item))
    return ()


def _fed(path: Path, volt: float | None, item: Item) -> tuple[Knob, ...]:
    """What feeds a stage, behind a direct voltage or current; the design is made for what it should be."""
    if volt is None or item.about != "point" or item.unit not in ("V", "A"):
        return ()
    share = usual_tolerance("", "V", volt) / volt
    return (Knob(ref="its supply", taken=volt, unit="V", share=share, path=path, taken_in=False),)


def _parts(path: Path, rows: tuple[PartRow, ...]) -> tuple[Knob, ...]:
    held = {row.key: row.fitted for row in rows}
    return tuple(
        Knob(
            ref=row.ref,
            taken=row.fitted,
            unit=row.unit,
            share=PART_SHARES[row.kind],
            path=path,
            key=row.key,
            held=held,
        )
        for row in rows
    )


def _feedback(feedback: Feedback) -> tuple[Knob, ...]:
    """The bias of an oscillator and the figures of its device, which are typed for it."""
    known = oscillator.typical(feedback)
    resistor = PART_SHARES["resistor"]
    if oscillator.operating(feedback).kind == "jfet":
        fields = {
            "bias_ohm": ("RS", "Ω", resistor),
            "saturation_a": ("Q1, its IDSS,", "A", GAIN_SHARE),
            "pinch_off_v": ("Q1, its pinch-off,", "V", GAIN_SHARE),
        }
    else:
        fields = {
            "bias_ohm": ("RE", "Ω", resistor),
            "base_upper_ohm": ("RB1", "Ω", resistor),
            "base_lower_ohm": ("RB2", "Ω", resistor),
        }
    return tuple(
        Knob(ref=ref, taken=taken, unit=unit, share=share, path=("vfo", "tank", "feedback", name))
        for name, (ref, unit, share) in fields.items()
        if (taken := getattr(feedback, name) or known.get(name)) is not None
    )


def device_causes(analysis: Analysis, item: Item, now: float, off: float) -> Iterator[Cause]:
    """Transistors whose gain or current would explain a reading: of a direct voltage or current with the bias
    found anew, of a figure to the first order.
    """
    if item.about == "point" and item.unit in ("V", "A"):
        yield from _at_rest(analysis, item, now, off)
    elif item.stage in {stage.id for stage in analysis.project.stages}:
        yield from _gains(analysis, item, off)


def _called(ref: str, what: str) -> str:
    return f"{ref}, its {'current gain' if what == 'β' else what},"


def _at_rest(analysis: Analysis, item: Item, now: float, off: float) -> Iterator[Cause]:
    times = np.geomspace(_LEAST_GAIN, _MOST_GAIN, _POINTS)
    for row in (*analysis.circuits, *analysis.oscillators):
        made: object = row.design
        if row.stage != item.stage:
            continue
        if item.band not in ("", *row.bands):
            continue
        for each in amplifiers_in(made) or ((made,) if isinstance(made, Resting) else ()):
            if item.way and getattr(each, "way", None) not in (None, item.way):
                continue
            if getattr(each, "chip", None) is not None and item.key == "current":
                yield _of_device(item, "the chip, its own current,", off / now)
            for part, _ in each.circuit.transistors:
                found, settled = at_rest(each.circuit, each.rest, {f"{part.ref}.gain": times})
                read = _read(each, found, item.key)
                share = None if read is None else _reaches(times[settled], read, now + off)
                if share is not None:
                    what = "β" if isinstance(part.device, Bipolar) else "current"
                    yield _of_device(item, _called(part.ref, what), share - 1)


def _read(made: Resting, rest: Any, place: str) -> Array | None:
    """The direct voltage [V] or current [A] at a test point, of circuits that differ in values."""
    if place == "current":
        return np.sum([*rest.rails_a.values()], axis=0)
    for part, nodes in made.circuit.transistors:
        for lead, node in zip(part.device.leads, nodes, strict=True):
            if f"{key(part.role, part.which)}.{lead}" == place:
                return rest.volts.get(node)
    return None


def _reaches(times: Array, read: Array, wanted: float) -> float | None:
    """How many times a figure must be what it is taken for so that a value is read, the nearest to once."""
    found = []
    for (t, a), (u, b) in pairwise(zip(times.tolist(), read.tolist(), strict=True)):
        if (a - wanted) * (b - wanted) <= 0 and a != b:
            found.append(t + (u - t) * (wanted - a) / (b - a))
    return min(found, key=lambda each: abs(log(each)), default=None)


def _of_device(item: Item, ref: str, off: float) -> Cause:
    times = abs(off) / GAIN_SHARE
    return Cause(stage=item.stage, ref=ref, taken=1.0, wanted=1 + off, unit="", off=off, times=times)


#: What a transistor's current gain does to a figure, by the figure's key.
_OF_GAIN = {"gain_db": "gain_db", "noise_figure_db": "noise_db", "output": "gain_db"}


def _gains(analysis: Analysis, item: Item, off: float) -> Iterator[Cause]:
    attribute = _OF_GAIN.get(item.key)
    if attribute is None:
        return
    stage = analysis.project.stage(item.stage)
    band = item.band or analysis.project.bands[0].name
    facts = amplifier_facts(analysis, stage, band, "transmit" if item.way == "transmit" else "receive")
    told = Unsolved("") if isinstance(facts, Unsolved) else sensitivities(facts)
    for each in () if isinstance(told, Unsolved) else told:
        does = getattr(each, attribute) if each.what else 0.0
        share = off * TOLD / does if does else 0.0
        if does and _LEAST_GAIN - 1 < share < _MOST_GAIN - 1:
            yield _of_device(item, _called(each.ref, each.what), share)
