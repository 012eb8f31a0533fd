"""Low-pass between power amplifier and antenna: shunt capacitors at both ends, coils between.

From the prototype's g values (Matthaei, Young, Jones 1964, section 4.05, from memory): series
L = g R/(2π fc), shunt C = g/(2π fc R). With a trap, the middle coil is tuned to the second harmonic by a
capacitor across it and the rest is fitted numerically to keep the pass-band as it was.

Capacitors come in steps and coils are wound to any value. So the coils are fitted once more around the
capacitors that are really taken, to the best match on the bands served: rounding alone would leave a return
loss of 10 to 16 dB.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import lru_cache
from itertools import islice, product
from math import pi, sqrt

import numpy as np

from core.circuits.circuit import Part
from core.circuits.fit import fit_losses, fit_match
from core.circuits.ladder import Arm, Array, ComplexArray, Network, solve
from core.circuits.prototypes import attenuation_db, prototype, three_db_edge
from core.circuits.response import crossing, inner_part, served_grid
from core.model.stages.filters import LowPassFilter, Series
from core.stages.coils import winding
from core.stages.gate import gate
from core.stages.on_hand import ALL_BOUGHT, Shelf, first_on_hand
from core.stages.outcome import FilterDesign, FilterFigures, PartRow, Unsolved
from core.stages.parts import Built, part
from core.stages.wound import Wound
from core.trade.cores import cores
from core.trade.series import neighbours, preferred

#: Cut-off over the highest dial frequency when none was asked for; common practice, no source.
USUAL_CUTOFF_RATIO = 1.05
BUTTERWORTH_CUTOFF_RATIO = 1.26
#: A reflection this small [-] needs no other capacitors: 32 dB of return loss.
_GOOD_REFLECTION = 0.025
#: A coil this near to what whole turns reach is reached [-].
_REACHED = 1e-6
_MATCHED_POINTS = 7
_MOST_TRIALS = 16
#: Capacitors on hand may reflect so much [-], 26 dB of return loss, or what bought ones do if that is more,
#: and so much less may be lost of the second and third harmonic [dB]; a choice.
_ON_HAND_REFLECTION, _ON_HAND_DB = 0.05, 1.0

Dials = tuple[tuple[float, float], ...]


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


def _lossless(filter: LowPassFilter, cutoff_hz: float, trap_hz: float | None) -> Network:
    shape = "butterworth" if filter.shape == "butterworth" else "chebyshev"
    g = prototype(shape, filter.order, filter.ripple_db).g  # type: ignore[arg-type]
    w, around = 2 * pi * cutoff_hz, filter.system_ohm
    # The coil nearest the middle; of two equally near, the one towards the power amplifier (the source).
    coils = range(1, filter.order, 2)
    trapped = min(coils, key=lambda n: (abs(n - (filter.order - 1) / 2), n))
    arms: list[Arm] = []
    for n, value in enumerate(g):
        number = n // 2 + 1
        if n % 2 == 0:
            arms.append(Arm("shunt", (part("low_pass", "shunt", number, value / (w * around)),)))
            continue
        inductance = value * around / w
        if trap_hz is None or n != trapped:
            arms.append(Arm("series", (part("low_pass", "coil", number, inductance),)))
        else:
            # The same reactance as the plain coil at cut-off, infinite at the trap.
            inductance *= 1 - (cutoff_hz / trap_hz) ** 2
            coil = part("low_pass", "coil", number, inductance)
            across = part("low_pass", "trap", number, 1 / ((2 * pi * trap_hz) ** 2 * inductance))
            arms.append(Arm("series", (coil, across), "in_parallel"))
    return Network(tuple(arms), around, around)


def trap_frequency(filter: LowPassFilter, dials: Dials) -> float | None:
    """Where the trap is tuned [Hz]: the second harmonic of the lowest band served, nearest to cut-off."""
    if filter.shape != "chebyshev_trap" or not dials:
        return None
    low, high = min(dials)
    return low + high


@lru_cache(maxsize=128)
@gate("The low-pass")
def design(filter: LowPassFilter, dials: Dials, shelf: Shelf = ALL_BOUGHT) -> FilterDesign | Unsolved:
    """The low-pass on its resulting parts; `dials` are the (low, high) [Hz] of the bands it serves.

    Capacitors of the `shelf` are taken where match and harmonics are hardly worse for it.

    References: C1.. shunt capacitors, L1.. coils, CT the trap's capacitor.
    """
    cutoff = cutoff_of(filter, dials)
    if cutoff is None:
        return Unsolved("A low-pass serves no band and has no cut-off; tick a band or give a cut-off.")
    if filter.order % 2 == 0:
        return Unsolved(f"A low-pass of order {filter.order} would end in a coil; choose an odd order.")
    trap = trap_frequency(filter, dials)
    if filter.shape == "chebyshev_trap" and (trap is None or trap <= 1.15 * cutoff):
        return Unsolved(
            "The low-pass's trap cannot lie on the second harmonic, which is too near the cut-off; lower the "
            "cut-off, serve fewer bands, or leave the trap out."
        )
    network = _lossless(filter, cutoff, trap)
    values = {p.ref: p.value for p in network.parts}
    if trap is not None:
        values = _fitted_with_trap(filter, network, values, cutoff)
    rows = _rows(filter, network, values, trap, _choice(filter, network, values, trap, dials, cutoff, shelf))
    wound = _all_wound(filter, rows, cutoff, dials)
    if isinstance(wound, Unsolved):
        return wound
    rows = [replace(row, note=_noted(row, wound)) for row in rows]
    fitted = {row.ref: row.fitted for row in rows}

    def quality(each: Part) -> float:
        if each.kind == "capacitor":
            return filter.capacitor_q
        return wound[each.ref].quality if each.ref in wound else filter.coil_q

    arms = tuple(
        replace(arm, parts=tuple(replace(p, value=fitted[p.ref], q=quality(p)) for p in arm.parts))
        for arm in network.arms
        if isinstance(arm, Arm)
    )
    rows.sort(key=lambda row: (row.kind, row.ref))
    final = Network(arms, filter.system_ohm, filter.system_ohm)
    return FilterDesign(
        network=final,
        parts=tuple(rows),
        end_resistance_ohm=filter.system_ohm,
        span_hz=(cutoff / 20, 4 * cutoff),
        wound=tuple(wound.items()),
    )


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
    trap_hz: float | None,
    preferred_values: Mapping[str, float],
) -> list[PartRow]:
    """The parts with what is taken for each."""
    built, rows = Built("low_pass", filter.as_built), []
    trap = _trap(network)
    for each in network.parts:
        note = ""
        if trap is not None and trap_hz is not None and each in trap:
            squeeze = "squeeze or spread its turns to tune the trap"
            note = squeeze if each.kind == "inductor" else f"trap on {trap_hz / 1e6:.4g} MHz"
        rows.append(built.row_of(each, values[each.ref], preferred_values[each.ref], note))
    return rows


def _trap(network: Network) -> tuple[Part, Part] | None:
    """Capacitor and coil of the trap; None where there is none."""
    for across in network.parts:
        if across.role == "trap":
            return across, next(p for p in network.parts if p.role == "coil" and p.which == across.which)
    return None


def _choice(
    filter: LowPassFilter,
    network: Network,
    values: Mapping[str, float],
    trap_hz: float | None,
    dials: Dials,
    cutoff_hz: float,
    shelf: Shelf,
) -> dict[str, float]:
    """What is taken for each part: capacitors of the series, and coils that match on the bands served.

    Each capacitor is the nearest of its series. Where the coils cannot make up for that, its other
    neighbour is tried too, mirrored capacitors alike, and the best match on the worst place of the bands
    counts. Capacitors on hand take their place as far as the result allows. As-built values are given and
    the other coils are found around them.
    """
    fitted = Built("low_pass", filter.as_built)
    built = {p.ref: value for p in network.parts for value in (fitted.of(p),) if value is not None}
    core = cores().get(filter.core)
    capacitors = [p.ref for p in network.parts if p.kind == "capacitor"]
    coils = {p.ref for p in network.parts if p.role == "coil"}
    trap = _trap(network)
    if filter.capacitors == "exact" and not built and core is None:
        return dict(values)
    served, wanted = _to_match(network, values, dials, cutoff_hz)

    def made(taken: dict[str, float]) -> tuple[float, dict[str, float]]:
        """Worst miss of S11 on the bands with these capacitors, and the values of all parts."""
        parts = {**values, **taken}
        now = {**parts, **built}
        fixed = set(built)
        if trap is not None and trap_hz is not None:
            across, coil = trap[0].ref, trap[1].ref
            parts[coil] = 1 / ((2 * pi * trap_hz) ** 2 * now[across])
            now[coil] = built.get(coil, parts[coil])
            fixed.add(coil)
        free = {ref: now[ref] for ref in now if ref in coils and ref not in fixed}
        # Whole turns reach some values and not others: coils that cannot be had are set as near as they can
        # be, and the others are fitted around them.
        while free:
            parts |= fit_match(_with(network, now), free, served, wanted)
            now |= {ref: parts[ref] for ref in free}
            nearest = {ref: winding.reachable(core, now[ref]) for ref in free} if core else {}
            missed = {ref: abs(value / now[ref] - 1) for ref, value in nearest.items()}
            worst = max(missed, key=lambda ref: missed[ref], default="")
            if not worst or missed[worst] < _REACHED:
                break
            parts[worst] = now[worst] = nearest[worst]
            del free[worst]
        off = np.abs(solve(_with(network, now), served).s11 - wanted)
        return float(off.max()), parts

    best = made({ref: preferred(values[ref], filter.capacitors) for ref in capacitors})
    if best[0] > _GOOD_REFLECTION and filter.capacitors != "exact":
        for trial in _combinations(capacitors, values, filter.capacitors):
            best = min(best, made(trial), key=lambda each: each[0])
            if best[0] <= _GOOD_REFLECTION:
                break
    if not shelf or filter.capacitors == "exact":
        return best[1]
    harmonics = _harmonics_hz(dials, cutoff_hz)

    def judged(taken: Mapping[str, float]) -> tuple[float, float]:
        reflected, parts = made({ref: taken[ref] for ref in capacitors})
        return reflected, -float(solve(_with(network, {**parts, **built}), harmonics).loss_db.min())

    bought = {ref: best[1][ref] for ref in capacitors}
    reflected, kept_out = judged(bought)
    free = {ref: values[ref] for ref in capacitors if ref not in built}
    taken = first_on_hand(
        {tuple(group): values[group[0]] for group in _alike(free)},
        bought,
        shelf,
        judged,
        (max(reflected, _ON_HAND_REFLECTION), kept_out + _ON_HAND_DB),
    )
    return best[1] if taken == bought else made(taken)[1]


def _harmonics_hz(dials: Dials, cutoff_hz: float) -> Array:
    """The second and third harmonics of the bands that lie below the cut-off [Hz], or of the cut-off."""
    below = [(low, high) for low, high in dials if high <= cutoff_hz] or [(cutoff_hz, cutoff_hz)]
    return np.array([n * hz for ends in below for hz in ends for n in (2, 3)])


def _alike(capacitors_f: Mapping[str, float]) -> list[list[str]]:
    """References of capacitors that want the same value, together."""
    groups: dict[str, list[str]] = {}
    for ref, value in capacitors_f.items():
        groups.setdefault(f"{value:.4g}", []).append(ref)
    return list(groups.values())


def _to_match(
    network: Network, values: Mapping[str, float], dials: Dials, cutoff_hz: float
) -> tuple[Array, ComplexArray]:
    """Where to match [Hz], and the S11 wanted there: 0 on the bands served, else that of exact parts.

    A band beyond the cut-off asked for is not matched: coils that passed it would be another filter.
    """
    if dials and max(high for _, high in dials) <= cutoff_hz:
        f = served_grid(dials, _MATCHED_POINTS)
        return f, np.zeros(f.shape, dtype=complex)
    f = np.linspace(0.2, 1.0, 3 * _MATCHED_POINTS) * cutoff_hz
    return f, solve(_with(network, values), f).s11


def _combinations(
    capacitors: list[str], values: Mapping[str, float], series: Series
) -> Iterator[dict[str, float]]:
    """Capacitors with every choice between the two neighbours of the series, equal ones alike."""
    groups = _alike({ref: values[ref] for ref in capacitors})
    choices = [neighbours(values[group[0]], series) for group in groups]
    for picked in islice(product(*choices), _MOST_TRIALS):
        yield {ref: value for group, value in zip(groups, picked, strict=True) for ref in group}


def _with(network: Network, values: Mapping[str, float]) -> Network:
    """The network on these values by reference."""
    arms = tuple(
        replace(arm, parts=tuple(replace(p, value=values[p.ref]) for p in arm.parts))
        for arm in network.arms
        if isinstance(arm, Arm)
    )
    return Network(arms, network.source_ohm, network.load_ohm)


def _fitted_with_trap(
    filter: LowPassFilter, network: Network, start: dict[str, float], cutoff: float
) -> dict[str, float]:
    """Part values that give the plain Chebyshev's pass-band back; the trap keeps its frequency.

    The trap's coil and capacitor move oppositely, which one variable of `fit_losses` cannot say, so the
    trap stays as it is and its neighbours move.
    """
    omega = np.sin(np.linspace(0.15, pi / 2, 6 * filter.order))
    ideal = np.array([attenuation_db("chebyshev", filter.order, o, filter.ripple_db) for o in omega])
    edge = three_db_edge(filter.order, filter.ripple_db)
    fixed = {each.ref for each in _trap(network) or ()}
    ties = tuple((ref,) for ref in start if ref not in fixed)
    f = cutoff * np.append(omega, edge)
    weights = np.append(np.full(omega.size, 1 / sqrt(filter.ripple_db)), 0.3)
    return {
        **start,
        **fit_losses(network, start, ties, f, np.append(ideal, 3.0103), weights, rounds=25).values,
    }


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
