"""What the stages of a rig are designed for, and where its oscillators run."""

from collections import Counter
from functools import lru_cache
from math import inf

from core.model.notebook.junk_box import (
    FILTER_TYPES,
    CapacitorOnHand,
    CoreOnHand,
    JunkBox,
    VariableOnHand,
)
from core.model.project import Project
from core.model.values.notation import significant
from core.rig.plan.frequency_plan import band_plan
from core.stages.kinds.kind import Driver, Surroundings
from core.stages.on_hand import ALL_BOUGHT, Piece, Shelf, Trimmer


def surroundings(project: Project) -> Surroundings:
    """What the stages of a rig are designed for."""
    box = project.junk_box
    return Surroundings(
        if_hz=project.if_hz,
        bands=project.bands,
        capacitors_f=box.every_capacitor_f,
        transistors=project.transistors,
        shelf=for_filters(box),
        every=shelf(box),
    )


@lru_cache(maxsize=8)
def shelf(box: JunkBox) -> Shelf:
    """Capacitors, trimmers and cores of a junk box that comes first, nothing of another; of what only values
    are known there are as many as wanted, of C0G.
    """
    if not box.first:
        return ALL_BOUGHT
    endless = tuple(Piece("c0g", value, inf) for value in box.capacitors_f)
    counted = (
        Piece(each.type, each.capacitance_f, each.count)
        for each in box.parts
        if isinstance(each, CapacitorOnHand)
    )
    trimmers = (
        Trimmer(each.low_f, each.high_f, each.count)
        for each in box.parts
        if isinstance(each, VariableOnHand) and each.count
    )
    cores: Counter[str] = Counter()
    for each in box.parts:
        if isinstance(each, CoreOnHand):
            cores[each.core] += each.count
    return Shelf((*endless, *counted), tuple(trimmers), tuple(cores.items()))


@lru_cache(maxsize=8)
def for_filters(box: JunkBox) -> Shelf:
    """What of it filters can be made and trimmed of."""
    every = shelf(box)
    return Shelf(every.of(*FILTER_TYPES).pieces, every.trimmers)


def oscillator_hz(project: Project, driver: Driver) -> float:
    """About where an oscillator runs [Hz]: the IF for the carrier, for the VFO the middle of all it tunes
    with the carrier at the nominal IF; the IF where that would be no frequency.

    To two digits, so that turning the IF does not compute afresh what hardly changes.
    """
    at_hz = project.if_hz
    if driver == "vfo":
        plans = [band_plan(band, project.if_hz) for band in project.bands]
        middle = (min(plan.vfo_low_hz for plan in plans) + max(plan.vfo_high_hz for plan in plans)) / 2
        at_hz = middle if middle >= 1e3 else at_hz
    return significant(at_hz, 2)
