"""By how much less a VFO's noise is with another coil, after D. Leeson's law (Proc. IEEE 54 (1966) 329, from
memory).

Noise beside an oscillator goes as its losses over its tank's energy: as (w L)² G v² with the coil's
reactance, the conductance of all losses at the coil and the share v of its voltage at the device's gate or
base, which ends the swing at a voltage of its own whatever the tank is. A coil of higher Q loses less; a
smaller one with more capacitance across it stores more at the same swing. Only the change is told; how much
noise there is at all is stated or measured.
"""

from collections.abc import Iterator
from math import log10, pi

import numpy as np

from core.model.stages.tank import Tank
from core.model.values.notation import format_value
from core.record import record
from core.stages.outcome import Unsolved
from core.stages.vfo.oscillator import GATE, losses_s
from core.stages.vfo.start_up import SAFE_START, least_margin
from core.stages.vfo.tank import TankDesign, WantedRange, resonance
from core.stages.vfo.tank_design import design

#: Q of a coil that is worth winding [-], and how many times smaller it may be; common practice, no source.
_QUALITIES = (200.0, 250.0, 300.0, 400.0)
_SMALLER = (1.0, 1.25, 1.5, 2.0, 3.0)
#: Formers of a coil in air that many times as large; Q goes with its size.
_LARGER = (1.0, 1.25, 1.5, 2.0)


@record(kw_only=True)
class Quieter:
    """A tank with another coil, what it is in words, and by how much its noise is less [dB]."""

    words: str
    tank: Tank
    less_db: float


def quieter(made: TankDesign) -> Iterator[Quieter | None]:
    """Tanks with another coil that cover and start as well, the least change first; None for one that does
    not, or is no quieter.
    """
    wanted = tuple(WantedRange(r.band, r.wanted_low_hz, r.wanted_high_hz, r.shift) for r in made.ranges)
    covered, starts = sum(each.covers for each in made.ranges), least_margin(made)
    least = min(SAFE_START, starts) if starts is not None else None
    was = noise_measure(made)
    for words, tank in _tried(made):
        again = design(tank, wanted, made.shelf)
        if isinstance(again, Unsolved) or sum(each.covers for each in again.ranges) < covered:
            yield None
            continue
        margin = least_margin(again)
        less_db = 10 * log10(was / noise_measure(again))
        sure = least is None or (margin is not None and margin >= least)
        yield Quieter(words=words, tank=tank, less_db=less_db) if sure and less_db > 0 else None


def noise_measure(made: TankDesign) -> float:
    """(w L)² G v² at the worse end of the worst band [ohm]; noise is in proportion to it."""
    found = []
    for each in made.ranges:
        mode = resonance(made, each.band, np.array([0.0, 1.0]))
        for place in (0, 1):
            reactance = 2 * pi * float(mode.f_hz[place]) * made.coil_h
            lost = losses_s(made.tank, (made.coil_h, made.coil_q), mode, place)
            found.append(reactance**2 * lost * float(mode.at(GATE)[place]) ** 2)
    return max(found)


def _tried(made: TankDesign) -> Iterator[tuple[str, Tank]]:
    """Higher Q, then smaller coils, then both, as far as that is a choice of this tank."""
    tank = made.tank
    better: list[tuple[str, Tank]] = [("", tank)]
    if made.wound is None:
        better += [
            (f" with a Q of {q:.0f}", tank.edited(("coil_q",), q)) for q in _QUALITIES if q > made.coil_q
        ]
    elif tank.in_air is not None:
        for times in _LARGER[1:]:
            diameter, length = (float(f"{times * each:.3g}") for each in tank.in_air)
            larger = tank.edited(("coil_diameter_m",), diameter).edited(("coil_length_m",), length)
            size = f"{format_value(diameter, 'm', 3)} across and {format_value(length, 'm', 3)} long"
            better.append((f" on a former {size}", larger))
    for smaller in _SMALLER:
        coil_h = float(f"{made.coil_h / smaller:.2g}")
        for words, each in better:
            if smaller == 1.0 and not words:
                continue
            told = "" if smaller == 1.0 else f" of {format_value(coil_h, 'H', 2)}"
            sized = each if smaller == 1.0 else each.edited(("coil_h",), coil_h)
            yield f"Take a coil{told}{words}", sized
