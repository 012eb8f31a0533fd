"""How much of the tank must be of the compensating kind, so that the dial's worst place drifts least.

A capacitor's effect on drift is its share of the tank times its coefficient, and a farad straight across
the tuning has the same share whatever its kind. So the drift at every place of every band is a straight line
in the compensating capacitance, and the smallest worst place is where two of these lines meet (Chebyshev's
problem on a line). A value that stills the middle of the dial leaves more at one end. The values of the
series beside that best one are then tried on the tank itself.
"""

from functools import lru_cache
from typing import get_args

import numpy as np

from core.circuits.ladder import Array
from core.model.stages.tank import CapacitorType, Tank
from core.model.values.notation import format_value
from core.model.values.part_names import reference
from core.record import record
from core.stages.gate import gate
from core.stages.outcome import Unsolved
from core.stages.vfo import vfo
from core.stages.vfo.relations import built_of
from core.stages.vfo.tank import TankDesign, WantedRange, resonance
from core.stages.vfo.tank_design import design
from core.trade.series import neighbours
from core.trade.temperature import coefficients

#: Places of each band's dial at which the drift is looked at, ends included.
_PLACES = 5
#: A value that leaves no more than this share beyond the best one is as good [-]: rounding of the parallel
#: capacitor alone moves the drift by some per cent.
_AS_GOOD = 1.05
#: A value whose straight line promises to leave this much more than its neighbour's need not be tried [-].
_NEAR = 1.5
#: A value on hand may leave so many times the drift of the best one that can be bought [-]; a choice.
_HARDLY_MORE = 2.0


@record(kw_only=True)
class Compensation:
    """What of the tank is to be of the compensating kind `type`.

    `needed_f` [F] is the exact best, `preferred_f` [F] the best of the tank's series and `left_hz_per_k` the
    drift that remains at the worst place of any band, with its sign. `differential_share` is the setting of
    the differential capacitor that does it instead, where it can; the figure left is then that setting's.
    `fitted` says that what is there now is as good.
    """

    type: str
    needed_f: float
    preferred_f: float
    left_hz_per_k: float
    differential_share: float | None
    fitted: bool


@record(slots=False)
class _Lines:
    """Drift in Hz per kelvin at every place, shape (P,): without any of CK, and what CK and the cold side of
    a differential capacitor take off it, Hz per kelvin and farad.
    """

    bare: Array
    by_compensation: Array
    by_cold: Array


def _lines_at(made: TankDesign, band: str, positions: Array) -> _Lines:
    table, tank = coefficients(), made.tank
    kind, instead = table[tank.compensation_type].ppm, table[tank.parallel_type].ppm
    found = resonance(made, band, positions)
    scale = found.f_hz / 1e6
    # A capacitor straight across the tuning: its share of the tank per farad.
    trimmer = made.fitted["trimmer", None]
    per_farad = found.shares[reference("tank", "trimmer")] / trimmer
    total = vfo.drift_ppm(made, band, found) * scale
    by_compensation = per_farad * (kind - instead) / 2 * scale
    bare = total + by_compensation * (made.value("compensating") or 0.0)
    return _Lines(bare, by_compensation, per_farad * kind / 2 * scale)


def _lines(made: TankDesign) -> _Lines | None:
    """The lines of all places of all bands together; None where no band has a dial."""
    found = []
    for each in made.ranges:
        of = vfo.dial(made, each.band)
        if not isinstance(of, Unsolved):
            found.append(_lines_at(made, each.band, np.linspace(*of.wanted_positions, _PLACES)))
    if not found:
        return None
    return _Lines(
        np.concatenate([each.bare for each in found]),
        np.concatenate([each.by_compensation for each in found]),
        np.concatenate([each.by_cold for each in found]),
    )


def least_worst(offset: Array, slope: Array) -> float:
    """The x for which the largest |offset - slope x| is smallest; `offset` and `slope` of shape (P,).

    The minimum of a convex broken line lies at one of its corners, where two of the lines are alike in size.
    """
    one, other = np.meshgrid(np.arange(offset.size), np.arange(offset.size))
    with np.errstate(divide="ignore", invalid="ignore"):
        corners = np.concatenate(
            [
                ((offset[one] + offset[other]) / (slope[one] + slope[other])).ravel(),
                ((offset[one] - offset[other]) / (slope[one] - slope[other])).ravel(),
            ]
        )
    corners = corners[np.isfinite(corners)]
    if corners.size == 0:
        return 0.0
    worst = np.abs(offset - np.multiply.outer(corners, slope)).max(axis=-1)
    return float(corners[np.argmin(worst)])


def _worst(offset: Array, slope: Array, x: float) -> float:
    """The value of `offset` - `slope` x that is largest in size, with its sign."""
    left = offset - slope * x
    return float(left[np.argmax(np.abs(left))])


def stilling_f(made: TankDesign, band: str, position: float) -> float:
    """Compensating capacitance [F] that stills one place of a band's dial (position [-]) exactly.

    Negative where the kind only adds to the drift; infinite where it is the parallel capacitor's own.
    """
    lines = _lines_at(made, band, np.array([position]))
    slope = float(lines.by_compensation[0])
    return float(lines.bare[0]) / slope if slope else np.inf


@lru_cache(maxsize=64)
@gate("The VFO's compensation")
def compensation(made: TankDesign) -> Compensation | Unsolved:
    """What compensates the tank best over all its bands, counted on the tank as it will be afterwards.

    `Unsolved` says why not, or what to do first: the kind has the wrong sign, there is too little fixed
    capacitance to replace, or a part fitted as built stands in the way.
    """
    free = _freed(made)
    lines = _lines(free)
    if lines is None:
        return Unsolved(
            "The parts tune nothing of what the bands want, so there is no drift to compensate yet."
        )
    tank = free.tank
    kind = coefficients()[tank.compensation_type]
    fitted_f = made.value("compensating") or 0.0
    now = abs(_worst(lines.bare, lines.by_compensation, fitted_f))
    if free.value("differential") is not None:
        setting = _differential(lines, free, fitted_f, now)
        if setting is not None:
            return setting
    needed = least_worst(lines.bare, lines.by_compensation)
    if needed <= 0:
        middle = float(np.median(lines.bare))
        way, sign = ("falls", "negative") if middle < 0 else ("rises", "positive")
        return Unsolved(
            f"The frequency {way} about {abs(middle):.0f} Hz a degree as it is, and {kind.name} would only "
            f"add to that; choose a compensating kind of the {sign} sign."
        )
    # What across the tuning is not bound: the trimmer must stay on its travel.
    most = (free.value("parallel") or 0.0) + fitted_f + free.fitted["trimmer", None] - tank.trimmer.low_f
    allowed = [each for each in neighbours(needed, tank.capacitors) if each <= most * (1 + 1e-9)]
    if not allowed:
        return Unsolved(
            f"{format_value(needed, 'F', 3)} of {kind.name} would be needed and only "
            f"{format_value(max(most, 0.0), 'F', 3)} across the tuning can be exchanged; "
            f"{_stronger(tank, needed, most)}."
        )
    expected = {each: abs(_worst(lines.bare, lines.by_compensation, each)) for each in allowed}
    near = [each for each in allowed if expected[each] <= _NEAR * min(expected.values())]
    left, best = min(((_left(free, farad), farad) for farad in near), key=lambda pair: abs(pair[0]))
    on_hand = _on_hand(free, needed, most, left)
    left, best = (left, best) if on_hand is None else on_hand
    done = fitted_f > 0 and now <= abs(left) * _AS_GOOD
    found = Compensation(
        type=kind.name,
        needed_f=needed,
        preferred_f=fitted_f if done else best,
        left_hz_per_k=left,
        differential_share=None,
        fitted=done,
    )
    in_the_way = None if done else _in_the_way(made, free, found)
    return found if in_the_way is None else Unsolved(in_the_way)


def _stronger(tank: Tank, needed_f: float, most_f: float) -> str:
    """Which kind compensates with `most_f` [F] at most where the tank's own takes `needed_f` [F], in words.

    A capacitor's effect goes with its coefficient less that of the parallel capacitor it replaces.
    """
    table = coefficients()
    instead = table[tank.parallel_type].ppm
    effect = (table[tank.compensation_type].ppm - instead) * needed_f
    for kind in sorted(table.values(), key=lambda kind: abs(kind.ppm)):
        if kind.type in get_args(CapacitorType) and (kind.ppm - instead) * effect > 0:
            series = neighbours(effect / (kind.ppm - instead), tank.capacitors)
            if series[0] <= most_f:
                return f"take {kind.name}, of a larger coefficient"
    return "none has so large a coefficient: take a coil of a smaller one, or a larger parallel capacitor"


def _left(made: TankDesign, farad: float) -> float:
    """The worst drift [Hz/K] of the tank designed anew with `farad` [F] of compensation, with its sign."""
    again = design(_with(made.tank, farad), _wanted(made), made.shelf)
    lines = None if isinstance(again, Unsolved) else _lines(again)
    if lines is None or isinstance(again, Unsolved):
        return np.inf
    return _worst(lines.bare, lines.by_compensation, again.value("compensating") or 0.0)


def _on_hand(made: TankDesign, needed: float, most: float, bought: float) -> tuple[float, float] | None:
    """The worst drift [Hz/K] and value [F] of the capacitor on hand that leaves least, where that is hardly
    more than what the best one bought leaves; None where there is none.
    """
    values = [each for each in made.shelf.of(made.tank.compensation_type).near(needed) if each <= most]
    found = [(_left(made, each), each) for each in values]
    best = min(found, key=lambda pair: abs(pair[0]), default=None)
    return best if best is not None and abs(best[0]) <= _HARDLY_MORE * abs(bought) else None


def _freed(made: TankDesign) -> TankDesign:
    """The tank with its parallel and compensating capacitors free to follow: what all is counted on."""
    built = built_of(made.tank)
    if built.get("parallel") is None and built.get("compensating") is None:
        return made
    rest = built.without("parallel", "trimmer", "compensating")
    free = design(made.tank.edited(("as_built",), rest), _wanted(made), made.shelf)
    return made if isinstance(free, Unsolved) else free


def _wanted(made: TankDesign) -> tuple[WantedRange, ...]:
    return tuple(WantedRange(r.band, r.wanted_low_hz, r.wanted_high_hz, r.shift) for r in made.ranges)


def _differential(lines: _Lines, made: TankDesign, fitted_f: float, now: float) -> Compensation | None:
    """The differential capacitor's setting that does it, the rest staying as fitted; None where none can."""
    whole, set_now = made.fitted["differential", None], made.tank.differential_share
    slope = lines.by_cold * whole
    rest = lines.bare - lines.by_compensation * fitted_f + slope * set_now
    share = least_worst(rest, slope)
    if not 0 <= share <= 1:
        return None
    left = _worst(rest, slope, share)
    done = now <= abs(left) * _AS_GOOD
    kind = coefficients()[made.tank.compensation_type].name
    return Compensation(
        type=kind,
        needed_f=share * whole,
        preferred_f=fitted_f,
        left_hz_per_k=left,
        differential_share=set_now if done else share,
        fitted=done,
    )


def _in_the_way(made: TankDesign, free: TankDesign, found: Compensation) -> str | None:
    """The sentence on a part as built that keeps a compensation from being made; None where none does."""
    built = built_of(made.tank)
    value = format_value(found.preferred_f, "F", 3)
    compensating, fixed = built.get("compensating"), built.get("parallel")
    if compensating is not None:
        return (
            f"The compensating capacitor is {format_value(compensating, 'F', 3)} as built; solder {value} of "
            f"{found.type} in its place and type that in, or clear its as-built value."
        )
    if fixed is None:
        return None
    again = design(compensated(made, found), _wanted(made), made.shelf)
    if not isinstance(again, Unsolved) and all(each.covers for each in again.ranges):
        return None
    then = design(compensated(free, found), _wanted(made), made.shelf)
    instead = 0.0 if isinstance(then, Unsolved) else then.value("parallel") or 0.0
    parallel = format_value(fixed, "F", 3)
    trimmer = "" if built.get("trimmer") is None else ", clear the trimmer's too"
    less = f"it must become {format_value(instead, 'F', 3)}" if instead else "it must go"
    return (
        f"The parallel capacitor is {parallel} as built, and {value} of {found.type} beside it would be too "
        f"much; {less}: type in what you solder, or clear its as-built value{trimmer}, and compensate then."
    )


def compensated(made: TankDesign, found: Compensation) -> Tank:
    """The tank with its compensation as found: the differential capacitor's setting where that serves."""
    if found.differential_share is not None:
        return made.tank.edited(("differential_share",), found.differential_share)
    return _with(made.tank, found.preferred_f)


def _with(tank: Tank, farad: float) -> Tank:
    """The tank with `farad` [F] of compensation, a given parallel capacitor giving way by as much."""
    more = farad - (tank.compensation_f or 0.0)
    given = tank.find == "coil_and_padder" and built_of(tank).get("parallel") is None
    if given and tank.parallel_f > more:
        tank = tank.edited(("parallel_f",), tank.parallel_f - more)
    return tank.edited(("compensation_f",), farad)
