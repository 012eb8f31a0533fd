"""What to change so that a VFO that does not start surely does: each answer tried on the whole tank first."""

from collections.abc import Iterator
from functools import lru_cache

from core.model.stages.tank import Tank
from core.model.values.notation import format_value
from core.record import record
from core.stages.outcome import Unsolved
from core.stages.vfo import vfo
from core.stages.vfo.oscillator import operating
from core.stages.vfo.relations import built_of
from core.stages.vfo.tank import TankDesign, WantedRange
from core.stages.vfo.tank_design import SAFE_MARGIN, design
from core.trade.series import neighbours

#: Loop gain over loss below which an oscillator is not sure to start, and below which it cannot.
SAFE_START, LEAST_START = SAFE_MARGIN, 1.0
#: A choke that is customary at HF, H; common practice.
_CHOKE_H = 1e-3
#: Bias resistors worth trying behind one, ohm; common practice.
_BIAS_OHM = (680.0, 470.0, 330.0, 220.0, 150.0)
#: The closest coupling worth trying, F; a choice.
_CLOSEST_F = 1e-9

Change = tuple[str, float | str]


@record
class StartRemedy:
    """The first change of the feedback's parts that makes every band start safely, and the tank with it."""

    words: str
    tank: Tank
    margin: float


def least_margin(made: TankDesign) -> float | None:
    """The least start-up margin over the wanted ends of all bands [-]; None where no band has a dial."""
    found = [vfo.figures(made, each.band) for each in made.ranges]
    starts = [min(of.start) for of in found if not isinstance(of, Unsolved)]
    return min(starts) if starts else None


@lru_cache(maxsize=32)
def remedy(made: TankDesign) -> StartRemedy | None:
    """What makes every band start with at least SAFE_START; None where nothing tried does.

    Tried in this order: a choke, a smaller bias resistor, closer coupling, another device, and these
    together. A change that costs a band its cover does not count.
    """
    wanted = tuple(WantedRange(r.band, r.wanted_low_hz, r.wanted_high_hz, r.shift) for r in made.ranges)
    covered = sum(each.covers for each in made.ranges)
    for changes in _tried(made.tank):
        feedback = made.tank.feedback
        for name, value in changes:
            feedback = feedback.edited((name,), value)
        tank = made.tank.edited(("feedback",), feedback)
        again = design(tank, wanted, made.shelf)
        if isinstance(again, Unsolved) or sum(each.covers for each in again.ranges) < covered:
            continue
        margin = least_margin(again)
        if margin is not None and margin >= SAFE_START:
            return StartRemedy(_words(changes, tank), tank, margin)
    return None


def _tried(tank: Tank) -> Iterator[tuple[Change, ...]]:
    feedback = tank.feedback
    choke: tuple[Change, ...] = () if feedback.choke_h else (("choke_h", _CHOKE_H),)
    lower = [("bias_ohm", ohm) for ohm in _BIAS_OHM if ohm < feedback.bias_ohm]
    closer: list[Change] = []
    farad = feedback.coupling_f
    while tank.tuned == "parallel" and farad < _CLOSEST_F and built_of(tank).get("coupling") is None:
        farad = neighbours(farad * 1.01, "E12")[1]
        closer.append(("coupling_f", farad))
    other: list[Change] = [("device", name) for name in ("j310", "2n3904") if name != feedback.device]
    if choke:
        yield choke
    yield from ((each,) for each in lower)
    if choke:
        yield from ((*choke, each) for each in lower)
    yield from ((each,) for each in closer)
    last = lower[-1:]
    yield from ((*choke, *last, each) for each in closer)
    yield from ((each,) for each in other)
    yield from ((*choke, *last, each) for each in other)


def _words(changes: tuple[Change, ...], tank: Tank) -> str:
    told = []
    for name, value in changes:
        if name == "choke_h":
            told.append(
                f"put a choke of {format_value(float(value), 'H', 3)} in series with the bias resistor"
            )
        elif name == "bias_ohm":
            current = format_value(operating(tank.feedback).current_a, "A", 2)
            told.append(f"lower the bias resistor to {format_value(float(value), 'Ω', 3)}, for {current}")
        elif name == "coupling_f":
            told.append(f"couple closer, with CC {format_value(float(value), 'F', 3)}")
        else:
            told.append(f"take a {operating(tank.feedback).name}")
    return ", and ".join(told)
