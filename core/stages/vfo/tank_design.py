"""Finds the parts with which the VFO's tank covers the bands, or says what stands in the way."""

from collections.abc import Mapping
from functools import lru_cache
from itertools import combinations
from math import pi

import numpy as np

from core.model.stages.tank import Tank
from core.model.values.notation import megahertz
from core.model.values.quantities import spelled
from core.stages.gate import gate
from core.stages.on_hand import ALL_BOUGHT, Shelf
from core.stages.outcome import Unsolved
from core.stages.vfo import oscillator
from core.stages.vfo.relations import built_of, feedback_of
from core.stages.vfo.tank import Limit, RangeCover, Shift, TankDesign, WantedRange, resonance
from core.stages.vfo.tank_solution import Solution
from core.trade.series import preferred

#: Reactances of ordinary VFO coils, ohm; common practice, no source.
_USUAL_COILS_OHM = (100.0, 150.0, 70.0, 200.0, 50.0)
#: Ordinary tuning capacitors, F; common practice, no source.
_USUAL_VARIABLES_F = (100e-12, 200e-12, 365e-12)
#: A feedback of capacitors on hand may start so much less surely [-], or as surely as is safe in any case.
_HARDLY_LESS, SAFE_MARGIN = 0.95, 2.5


@lru_cache(maxsize=64)
@gate("The VFO's tank")
def design(tank: Tank, wanted: tuple[WantedRange, ...], shelf: Shelf = ALL_BOUGHT) -> TankDesign | Unsolved:
    """Parts with which the tank covers every wanted range, its margin included.

    Capacitors of the `shelf` are taken where the trimmer or the tuning still reaches all that is wanted,
    and for the feedback where it starts hardly less surely.

    Bands that are not shifted share one range. An as-built value counts as given: the others are found
    around it. Ranges that pass zero are left out; `Unsolved` when no other is left.
    """
    if not wanted:
        return Unsolved("No band wants anything of the VFO; give the rig a band.")
    # A range through zero is the frequency plan's fault to tell; the other bands' parts are found without it.
    wanted = tuple(each for each in wanted if each.low_hz - tank.margin_hz > 0)
    if not wanted:
        return Unsolved("On every band the VFO would pass zero; choose another mixing scheme or IF.")
    plain = _found(tank, wanted, shelf, {})
    if isinstance(plain, Unsolved) or not shelf.of(tank.feedback.type):
        return plain
    return _of_the_shelf(plain, wanted, shelf)


def _of_the_shelf(plain: TankDesign, wanted: tuple[WantedRange, ...], shelf: Shelf) -> TankDesign:
    """The tank with as many capacitors on hand as can be in its feedback: nearest ones, with which no band is
    lost and the least start-up margin over all bands is no less than was safe, or than it was.
    """
    tank, mine = plain.tank, shelf.of(plain.tank.feedback.type)
    built = built_of(tank)
    near = {
        role: next(iter(mine.near(asked)), None)
        for role, (asked, _) in feedback_of(tank).items()
        if built.get(role) is None
    }
    offered = {role: value for role, value in near.items() if value is not None}
    least = min(_least_margin(plain) * _HARDLY_LESS, SAFE_MARGIN)
    covered = sum(each.covers for each in plain.ranges)
    for count in range(len(offered), 0, -1):
        found: list[tuple[float, TankDesign]] = []
        for roles in combinations(offered, count):
            taken: dict[str, float] = {role: offered[role] for role in roles}
            if not mine.holds(taken.values()):
                continue
            made = _found(tank, wanted, shelf, taken)
            if isinstance(made, Unsolved) or sum(each.covers for each in made.ranges) < covered:
                continue
            margin = _least_margin(made)
            if margin >= least and len(made.limits) <= len(plain.limits):
                found.append((margin, made))
        if found:
            return max(found, key=lambda each: each[0])[1]
    return plain


def _least_margin(made: TankDesign) -> float:
    """The least start-up margin at the ends of all ranges [-]; nothing where none can be told."""
    found = []
    for each in made.ranges:
        mode = resonance(made, each.band, np.array([0.0, 1.0]))
        found += [oscillator.margin(made.tank, (made.coil_h, made.coil_q), mode, place) for place in (0, 1)]
    return min(found, default=0.0)


def _found(
    tank: Tank, wanted: tuple[WantedRange, ...], shelf: Shelf, taken: Mapping[str, float]
) -> TankDesign | Unsolved:
    """The tank with these capacitors on hand in its feedback [F], by role."""
    ranges = [
        WantedRange(w.band, w.low_hz - tank.margin_hz, w.high_hz + tank.margin_hz, w.shift) for w in wanted
    ]
    plain = [r for r in ranges if r.shift == "none"] or ranges[:1]
    shifted = [r for r in ranges if r not in plain]
    base = WantedRange("", min(r.low_hz for r in plain), max(r.high_hz for r in plain))
    made = Solution(tank, base, shifted, len(plain) > 1, shelf, taken)
    made.solve()
    covers = []
    if isinstance(made.wound, Unsolved):
        return made.wound
    wound = made.wound
    fitted = TankDesign(
        tank=tank, parts=tuple(made.rows), ranges=(), fixed=(), found=(), limits=(), wound=wound
    )
    for w in wanted:
        shift: Shift = "none" if any(r.band == w.band for r in plain) else w.shift
        f = resonance(fitted, w.band, np.array([0.0, 1.0])).f_hz
        cover = RangeCover(
            band=w.band,
            wanted_low_hz=w.low_hz,
            wanted_high_hz=w.high_hz,
            covers_low_hz=float(f[0]),
            covers_high_hz=float(f[1]),
            shift=shift,
        )
        covers.append(cover)
        if not cover.covers and not made.limits:
            made.limits.append(
                Limit(
                    f"On {spelled(w.band)} these parts tune {megahertz(f[0], f[1])} where "
                    f"{megahertz(w.low_hz, w.high_hz)} is wanted",
                    "correct the as-built values, shift the band otherwise, or take a tuning capacitor of "
                    "more swing",
                    tells_range=True,
                )
            )
    return TankDesign(
        tank=tank,
        parts=tuple(made.rows),
        ranges=tuple(covers),
        fixed=tuple(made.fixed),
        found=tuple(made.found),
        limits=tuple(made.limits),
        wound=wound,
        shelf=shelf,
    )


def kept(made: TankDesign) -> Tank:
    """The tank with every part at its fitted value as built, so that it stays put when the rig is turned."""
    return made.tank.edited(("as_built",), {row.key: row.fitted for row in made.parts})


def anew(tank: Tank) -> Tank:
    """The tank with nothing fixed as built, so that every part that can be is found again."""
    return tank.edited(("as_built",), ())


def typical(wanted: tuple[WantedRange, ...], like: Tank | None = None) -> Tank:
    """The tank `like` with the first ordinary coil and tuning capacitor that cover these ranges.

    A coil of about 100 ohm in the middle of the plain ranges, or some other, and a tuning capacitor
    as small as will do.
    """
    plain = [w for w in wanted if w.shift == "none"] or list(wanted)
    middle = (min(w.low_hz for w in plain) + max(w.high_hz for w in plain)) / 2
    tank = Tank() if like is None else anew(like)
    for high_f in _USUAL_VARIABLES_F:
        for reactance in _USUAL_COILS_OHM:
            coil = preferred(reactance / (2 * pi * middle), "E12")
            tank = tank.edited(("coil_h",), coil)
            if tank.variable.law != "table":
                tank = tank.edited(("variable", "high_f"), max(high_f, 1.5 * tank.variable.low_f))
            made = design(tank, wanted)
            if isinstance(made, TankDesign) and not made.limits:
                return tank
    return tank
