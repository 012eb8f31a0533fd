"""Low-pass between power amplifier and antenna: shunt capacitors, and coils behind them.

Elements of Butterworth's closed form, or of a Chebyshev response with or without traps
(`core.circuits.shapes.trapped`), de-normalised as series L = g R/(2π fc), shunt C = g/(2π fc R).

Capacitors come in steps and coils are wound to any value. So the coils are fitted once more around the
capacitors that are really taken, to the best match on the bands served: rounding alone would leave a return
loss of 10 to 16 dB. A trap's coil follows from its capacitor. In which coils the traps lie makes no
difference to exact parts, but to what is really taken for them: that is chosen which leaves the most margin
at the worst harmonic.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import islice, permutations
from math import pi, sqrt

import numpy as np

from core.circuits.ladder import Arm, Network, solve
from core.circuits.response import crossing, inner_part, served_grid
from core.circuits.shapes.prototypes import prototype
from core.circuits.shapes.trapped import TrappedLowPass, three_db_edge, trapped
from core.model.bands import Dials
from core.model.stages.filters import LowPassFilter
from core.stages.coils import winding
from core.stages.fitting.low_pass_parts import Trap, choice, is_stepped, with_values
from core.stages.gate import gate
from core.stages.on_hand import ALL_BOUGHT, Shelf
from core.stages.outcome import FilterDesign, FilterFigures, PartRow, Unsolved
from core.stages.parts import Built, part
from core.stages.wound import Wound

#: Cut-off over the highest dial frequency when none was asked for; common practice, no source.
USUAL_CUTOFF_RATIO = 1.05
BUTTERWORTH_CUTOFF_RATIO = 1.26
#: A trap nearer than this to the cut-off costs the pass-band its coils' Q [-].
_NEAREST_TRAP = 1.15
#: A trap this near to its harmonic lies on it [-].
_ON_IT = 1e-3
#: Rounds in which the edge of a filter with traps settles.
_ROUNDS = 6
#: Ways to lay traps into coils that are tried: all there are for two traps in up to nine poles.
_MOST_PLACINGS = 6


def cutoff_of(filter: LowPassFilter, dials: Dials) -> float | None:
    """Cut-off [Hz]: the one asked for, else a little above the highest dial frequency [Hz] it serves.

    Butterworth is counted to its −3 dB point, which must lie higher to keep the band's loss low.
    """
    if filter.cutoff_hz is not None:
        return filter.cutoff_hz
    if not dials:
        return None
    ratio = BUTTERWORTH_CUTOFF_RATIO if filter.shape == "butterworth" else USUAL_CUTOFF_RATIO
    return ratio * max(high for _, high in dials)


#: The network on exact values, and its traps.
_Lossless = tuple[Network, tuple[Trap, ...]]


def _lossless(filter: LowPassFilter, cutoff_hz: float, traps_hz: Mapping[int, float]) -> _Lossless | None:
    """The exact network with traps [Hz] in some coils, by their place; None where there is none."""
    made: TrappedLowPass | None
    if filter.shape == "butterworth":
        g = prototype("butterworth", filter.order).g
        made = TrappedLowPass(g[0::2], g[1::2], (0.0,) * (filter.order // 2))
    else:
        cutoff_hz *= _further(filter, [hz / cutoff_hz for hz in traps_hz.values()])
        at = {place: hz / cutoff_hz for place, hz in traps_hz.items()}
        made = trapped(filter.order, filter.ripple_db, at)
    if made is None:
        return None
    w, around = 2 * pi * cutoff_hz, filter.system_ohm
    arms: list[Arm] = []
    traps: list[Trap] = []
    for n, shunt in enumerate(made.shunts):
        arms.append(Arm("shunt", (part("low_pass", "shunt", n + 1, shunt / (w * around)),)))
        if n == len(made.coils):
            break
        coil = part("low_pass", "coil", n + 1, made.coils[n] * around / w)
        if n not in traps_hz:
            arms.append(Arm("series", (coil,)))
            continue
        across = part("low_pass", "trap", n + 1, made.across[n] / (w * around))
        arms.append(Arm("series", (coil, across), "in_parallel"))
        traps.append(Trap(coil.ref, across.ref, traps_hz[n]))
    return Network(tuple(arms), around, around), tuple(traps)


def _further(filter: LowPassFilter, traps: Sequence[float]) -> float:
    """By how much the ripple's edge moves out with traps [-], which make the fall steeper, so that the −3 dB
    point stays: so much further off lies the band from where a lossy filter reflects. `traps` are over the
    cut-off [-].
    """
    kept = three_db_edge(filter.order, filter.ripple_db, ())
    further = 1.0
    for _ in range(_ROUNDS if traps else 0):
        further = kept / three_db_edge(filter.order, filter.ripple_db, [each / further for each in traps])
    return further


def trap_frequencies(filter: LowPassFilter, dials: Dials) -> tuple[float, ...]:
    """Where its traps are tuned [Hz], each in the middle of a band's harmonic; the lowest first."""
    if filter.shape != "chebyshev_trap" or not dials:
        return ()
    low, high = min(dials)
    if filter.traps == "second_of_each_band":
        return tuple(sorted({low + high for low, high in dials}))
    return (low + high, 1.5 * (low + high)) if filter.traps == "second_and_third" else (low + high,)


@lru_cache(maxsize=128)
@gate("The low-pass")
def design(filter: LowPassFilter, dials: Dials, shelf: Shelf = ALL_BOUGHT) -> FilterDesign | Unsolved:
    """The low-pass on its resulting parts; `dials` are the (low, high) [Hz] of the bands it serves.

    Capacitors of the `shelf` are taken where match and harmonics are hardly worse for it.

    References: C1.. shunt capacitors, L1.. coils, CT1.. the capacitor across the coil of a trap.
    """
    cutoff = cutoff_of(filter, dials)
    if cutoff is None:
        return Unsolved("A low-pass serves no band and has no cut-off; tick a band or give a cut-off.")
    asked = trap_frequencies(filter, dials)
    if reason := _no_trap(filter, asked, cutoff):
        return Unsolved(reason)
    # Neither values as built nor what is on hand moves the traps to other coils.
    exact = _placed(filter.edited(("as_built",), ()), dials, cutoff, asked)
    if exact is None:
        return Unsolved(
            "No low-pass with these traps has parts that can be made; leave one out, or lower the cut-off."
        )
    network, traps = exact
    values = {p.ref: p.value for p in network.parts}
    taken = choice(filter, network, values, traps, dials, cutoff, shelf)
    rows = _rows(filter, network, values, traps, taken.values)
    wound = _all_wound(filter, rows, cutoff, dials)
    if isinstance(wound, Unsolved):
        return wound
    rows = [replace(row, note=_noted(row, wound)) for row in rows]
    final = with_values(network, {row.ref: row.fitted for row in rows}, filter, wound)
    rows.sort(key=lambda row: (row.kind, row.ref))
    return FilterDesign(
        network=final,
        parts=tuple(rows),
        end_resistance_ohm=filter.system_ohm,
        span_hz=(cutoff / 20, 4 * cutoff),
        wound=tuple(wound.items()),
    )


def _no_trap(filter: LowPassFilter, asked_hz: tuple[float, ...], cutoff_hz: float) -> str:
    """Why the traps asked for cannot lie in this filter; empty where they can."""
    if filter.shape != "chebyshev_trap":
        return ""
    if not asked_hz or asked_hz[0] <= _NEAREST_TRAP * cutoff_hz:
        return (
            "The low-pass's trap cannot lie on the second harmonic, which is too near the cut-off; lower the "
            "cut-off, serve fewer bands, or leave the trap out."
        )
    room = (filter.order - 1) // 2
    if len(asked_hz) > room:
        return (
            f"A low-pass of order {filter.order} has room for {room} trap{'s' * (room > 1)} and "
            f"{len(asked_hz)} are asked for; raise the order to {2 * len(asked_hz) + 1}, or ask for fewer."
        )
    return ""


@lru_cache(maxsize=64)
def _placed(
    filter: LowPassFilter, dials: Dials, cutoff_hz: float, asked_hz: tuple[float, ...]
) -> _Lossless | None:
    """The exact network with its traps in the coils where the parts taken leave the worst harmonic the most
    margin; a single trap lies as near the middle as it can and still match. None where there is no such
    filter.

    Less than a decibel of margin is not worth a capacitor that has to be made up.
    """
    if not asked_hz:
        return _lossless(filter, cutoff_hz, {})
    best: tuple[tuple[float, int, bool, float], _Lossless] | None = None
    for way in _ways(filter.order, len(asked_hz)):
        exact = _lossless(filter, cutoff_hz, dict(zip(way, asked_hz, strict=True)))
        if exact is None:
            continue
        network, traps = exact
        values = {p.ref: p.value for p in network.parts}
        taken = choice(filter, network, values, traps, dials, cutoff_hz, ALL_BOUGHT)
        if not taken.missed and len(asked_hz) == 1:
            return exact
        bought = all(is_stepped(taken.values[each.across], filter.capacitors) for each in traps)
        worth = (-taken.missed, round(taken.margin_db), bought, taken.margin_db)
        if best is None or worth > best[0]:
            best = worth, exact
    return None if best is None else best[1]


def _ways(order: int, count: int) -> Iterator[tuple[int, ...]]:
    """Coils by their place for some traps, a single one in the middle first; of two equally near it the one
    towards the power amplifier (the source).
    """
    room = (order - 1) // 2
    ways = permutations(sorted(range(room), key=lambda n: (abs(2 * n + 1 - (order - 1) / 2), n)), count)
    # An odd order is the same filter turned end for end.
    turned = (way for way in ways if order % 2 == 0 or way <= tuple(room - 1 - place for place in way))
    return islice(turned, _MOST_PLACINGS)


def _all_wound(
    filter: LowPassFilter, rows: list[PartRow], cutoff_hz: float, dials: Dials
) -> dict[str, Wound] | Unsolved:
    """The coils on their core, by reference; none where no core was chosen."""
    if not filter.core:
        return {}
    core = winding.known(filter.core)
    if isinstance(core, Unsolved):
        return core
    f_hz = max((high for _, high in dials), default=cutoff_hz)
    found: dict[str, Wound] = {}
    for row in rows:
        if row.kind == "inductor":
            wound = winding.on_core(core, row.fitted, f_hz, turns=winding.turns_for(core, row.fitted))
            if isinstance(wound, Unsolved):
                return wound
            found[row.ref] = wound
    return found


def _noted(row: PartRow, wound: Mapping[str, Wound]) -> str:
    if row.ref not in wound:
        return row.note
    off = row.fitted / wound[row.ref].inductance_h - 1
    set_by = "" if abs(off) < 0.005 else f", {'squeezed' if off > 0 else 'spread'} to it"
    return "; ".join(each for each in (f"{wound[row.ref].note}{set_by}", row.note) if each)


def _rows(
    filter: LowPassFilter,
    network: Network,
    values: Mapping[str, float],
    traps: tuple[Trap, ...],
    taken: Mapping[str, float],
) -> list[PartRow]:
    """The parts with what is taken for each."""
    built, rows = Built("low_pass", filter.as_built), []
    notes = {each.coil: "squeeze or spread its turns to tune the trap" for each in traps}
    given = {p.ref: value for p in network.parts for value in (built.of(p),) if value is not None}
    fitted = {**taken, **given}
    for each in traps:
        at_hz = 1 / (2 * pi * sqrt(fitted[each.coil] * fitted[each.across]))
        wanted = "" if abs(at_hz / each.hz - 1) < _ON_IT else f", where {each.hz / 1e6:.4g} MHz are wanted"
        stepped = each.across in given or is_stepped(taken[each.across], filter.capacitors)
        made_up = "" if stepped else "; made up of several in parallel, or with a trimmer"
        notes[each.across] = f"trap on {at_hz / 1e6:.4g} MHz{wanted}{made_up}"
    for one in network.parts:
        rows.append(built.row_of(one, values[one.ref], taken[one.ref], notes.get(one.ref, "")))
    return rows


@lru_cache(maxsize=128)
@gate("The low-pass")
def figures(filter: LowPassFilter, dials: Dials, shelf: Shelf = ALL_BOUGHT) -> FilterFigures | Unsolved:
    """Figures of the low-pass; its widths count from zero."""
    made = design(filter, dials, shelf)
    if isinstance(made, Unsolved):
        return made
    cutoff = cutoff_of(filter, dials)
    assert cutoff is not None  # design() refuses a filter without a cut-off
    network = made.network
    f = np.geomspace(cutoff / 20, 20 * cutoff, 801)
    loss = solve(network, f).loss_db
    least = float(loss.min())
    used = served_grid(dials) if dials else f[f <= 0.95 * cutoff]
    served = solve(network, used)

    def first_beyond(depth: float) -> float | None:
        beyond = np.flatnonzero((loss > least + depth) & (f > cutoff / 2))
        if beyond.size == 0:
            return None
        return crossing(network, float(f[beyond[0] - 1]), float(f[beyond[0]]), least + depth)

    edge = first_beyond(3.0)
    inner = np.linspace(cutoff / 20, min(cutoff, inner_part(-(edge or cutoff), edge or cutoff)[1]), 201)
    mismatch = -10 * np.log10(1 - np.minimum(np.abs(solve(network, inner).s11) ** 2, 1 - 1e-12))
    return FilterFigures(
        centre_hz=None,
        bandwidth_3db_hz=edge,
        bandwidth_6db_hz=first_beyond(6.0),
        bandwidth_60db_hz=first_beyond(60.0),
        ripple_db=float(np.ptp(mismatch)),
        insertion_loss_db=float(served.loss_db.min()),
        return_loss_db=float(served.return_loss_db.min()),
        served_loss_db=float(served.loss_db.max()) if dials else None,
        served_return_loss_db=float(served.return_loss_db.min()) if dials else None,
    )
