"""The parts that are taken for a low-pass: capacitors of a series, and coils fitted around them."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from itertools import cycle, islice, product
from math import pi

import numpy as np

from core.circuits.circuit import Part
from core.circuits.fit import fit_match
from core.circuits.ladder import Arm, Array, ComplexArray, Network, solve
from core.circuits.response import served_grid
from core.model.bands import Dials
from core.model.stages.filters import LowPassFilter, Series
from core.record import record
from core.stages.coils import winding
from core.stages.on_hand import Shelf, first_on_hand
from core.stages.parts import Built
from core.stages.wound import Wound
from core.trade.cores import Core, cores
from core.trade.series import neighbours, preferred

#: A reflection this small [-] needs no other capacitors: 32 dB of return loss; with several traps 28 dB, as
#: the coils would have to leave their places far for more, which the harmonics get through by.
_GOOD_REFLECTION, _GOOD_WITH_TRAPS = 0.025, 0.04
#: A coil this near to what whole turns reach is reached [-].
_REACHED = 1e-6
_MATCHED_POINTS = 7
_MOST_TRIALS = 16
#: Capacitors on hand may reflect so much [-], 26 dB of return loss, or what bought ones do if that is more,
#: and so much less may be lost of the second and third harmonic [dB]; a choice.
_ON_HAND_REFLECTION, _ON_HAND_DB = 0.05, 1.0

#: Harmonics 2 to 9 of an ordinary power amplifier, by which parts of filters with traps are chosen, dBc;
#: common practice, no source. How clean the output is is reckoned with the rig's own.
_ORDINARY_DBC = np.array([-20.0, -15.0, -35.0, -30.0, -41.0, -36.0, -47.0, -42.0])


@record
class Trap:
    """A coil, the capacitor across it, and where both resonate [Hz]."""

    coil: str
    across: str
    hz: float

    def other(self, value: float) -> float:
        """The capacitance [F] to an inductance [H], or the other way round."""
        return 1 / ((2 * pi * self.hz) ** 2 * value)


def is_stepped(value: float, series: Series) -> bool:
    """Whether a capacitor [F] is one of the series, and not made up of several."""
    return abs(preferred(value, series) / value - 1) < _REACHED


@record
class Taken:
    """What is taken for each part, by reference; by how much the worst miss of S11 on the bands is more than
    matters [-], and how far it leaves the worst of an ordinary amplifier's harmonics below the signal [dB],
    0 where nobody asked.
    """

    values: Mapping[str, float]
    missed: float
    margin_db: float


def choice(
    filter: LowPassFilter,
    network: Network,
    values: Mapping[str, float],
    traps: tuple[Trap, ...],
    dials: Dials,
    cutoff_hz: float,
    shelf: Shelf,
) -> Taken:
    """What is taken for each part: capacitors of the series, and coils that match. `dials` and `cutoff_hz`
    in Hz.

    Each capacitor is the nearest of its series. Where the coils cannot make up for that, its other
    neighbour is tried too, mirrored capacitors alike, and the best match on the worst place of the bands
    counts; where that does not match either, the traps' capacitors are made up to what their coils want.
    Capacitors of the `shelf` take their place as far as the result allows. As-built values are given and the
    other coils are found around them.
    """
    fitted = Built("low_pass", filter.as_built)
    built = {p.ref: value for p in network.parts for value in (fitted.of(p),) if value is not None}
    core = cores().get(filter.core)
    several = len(traps) > 1
    good = _GOOD_WITH_TRAPS if several else _GOOD_REFLECTION
    capacitors = [p.ref for p in network.parts if p.kind == "capacitor"]
    if filter.capacitors == "exact" and not built and core is None:
        margin = harmonic_margin_db(with_values(network, values, filter), dials) if several else 0.0
        return Taken(dict(values), 0.0, margin)
    served, wanted = _to_match(network, values, dials, cutoff_hz)

    def made(taken: dict[str, float], loose: bool = False) -> Taken:
        """With these capacitors; with `loose` traps the pair is fitted as a whole."""
        parts = _matched(network, {**values, **taken}, built, traps, loose, core, served, wanted)
        now = {**parts, **built}
        off = np.abs(solve(with_values(network, now), served).s11 - wanted)
        margin = harmonic_margin_db(with_values(network, now, filter), dials) if several else 0.0
        return Taken(parts, max(float(off.max()) - good, 0.0), margin)

    nearest = {ref: preferred(values[ref], filter.capacitors) for ref in capacitors}
    tried, stepped = [made(nearest)], filter.capacitors != "exact"
    if tried[0].missed and stepped:
        tried += _neighbours(made, {ref: values[ref] for ref in capacitors}, filter.capacitors)
    if traps and all(each.missed for each in tried):
        shunts = {p.ref: values[p.ref] for p in network.parts if p.role == "shunt" and stepped}
        tried += _neighbours(partial(made, loose=True), shunts, filter.capacitors)
    best = min(tried, key=lambda each: each.missed)
    if not shelf or not stepped:
        return best
    harmonics = _harmonics_hz(dials, cutoff_hz)

    def judged(taken: Mapping[str, float]) -> tuple[float, float]:
        parts = made({ref: taken[ref] for ref in capacitors}).values
        now = with_values(network, {**parts, **built})
        reflected = float(np.abs(solve(now, served).s11 - wanted).max())
        return reflected, -float(solve(now, harmonics).loss_db.min())

    bought = {ref: best.values[ref] for ref in capacitors}
    reflected, kept_out = judged(bought)
    free = {ref: values[ref] for ref in capacitors if ref not in built}
    taken = first_on_hand(
        {tuple(group): values[group[0]] for group in _alike(free)},
        bought,
        shelf,
        judged,
        (max(reflected, _ON_HAND_REFLECTION), kept_out + _ON_HAND_DB),
    )
    return best if taken == bought else made(taken)


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


def _neighbours(
    made: Callable[[dict[str, float]], Taken], capacitors_f: Mapping[str, float], series: Series
) -> Iterator[Taken]:
    """Filters of capacitors that are one or the other neighbour of the series, equal ones alike, until one
    matches.

    Where there are too many combinations one capacitor after the other is changed for its other neighbour.
    """
    groups = _alike(capacitors_f)
    choices = [neighbours(capacitors_f[group[0]], series) for group in groups]

    def tried(picked: tuple[float, ...]) -> Taken:
        return made({ref: value for group, value in zip(groups, picked, strict=True) for ref in group})

    if 2 ** len(choices) <= _MOST_TRIALS:
        for picked in product(*choices):
            found = tried(picked)
            yield found
            if not found.missed:
                return
        return
    now = tuple(preferred(capacitors_f[group[0]], series) for group in groups)
    here = tried(now)
    for n in islice(cycle(range(len(choices))), _MOST_TRIALS):
        if not here.missed:
            break
        other = (*now[:n], choices[n][now[n] == choices[n][0]], *now[n + 1 :])
        there = tried(other)
        if there.missed < here.missed:
            here, now = there, other
    yield here


def harmonic_margin_db(network: Network, dials: Dials) -> float:
    """How far the worst of an ordinary power amplifier's harmonics 2 to 9 lies below the signal behind a
    low-pass, at either end of the bands (low, high) [Hz] that it serves, dB.
    """
    ends = np.array(dials).ravel()[:, np.newaxis] * np.arange(1, _ORDINARY_DBC.size + 2)
    loss = solve(network, ends.ravel()).loss_db.reshape(ends.shape)
    return float((loss[:, 1:] - loss[:, :1] - _ORDINARY_DBC).min())


def _matched(
    network: Network,
    taken: Mapping[str, float],
    built: Mapping[str, float],
    traps: tuple[Trap, ...],
    loose: bool,
    core: Core | None,
    served: Array,
    wanted: ComplexArray,
) -> dict[str, float]:
    """The values with the coils, and with `loose` traps their capacitors too, fitted to the match wanted."""
    parts, now = dict(taken), {**taken, **built}
    pairs = {each.coil: each for each in traps}

    def settle(coil: str, value: float) -> None:
        parts[coil] = value
        now[coil] = built.get(coil, value)

    def follow(trap: Trap) -> None:
        parts[trap.across] = trap.other(now[trap.coil])
        now[trap.across] = built.get(trap.across, parts[trap.across])

    free = [p.ref for p in network.parts if p.role == "coil" and p.ref not in built]
    for trap in traps:
        if trap.coil in built and trap.across not in built:
            follow(trap)
        elif trap.across in built or not loose:
            settle(trap.coil, trap.other(now[trap.across]))
            if core is not None and trap.coil in free and trap.across not in built:
                reached = winding.reachable(core, now[trap.coil])
                if abs(reached / now[trap.coil] - 1) > _REACHED:
                    settle(trap.coil, reached)
                    follow(trap)
            free = [ref for ref in free if ref != trap.coil]
    # Whole turns reach some values and not others: coils that cannot be had are set as near as they can be,
    # and the others are fitted around them.
    first = dict(now)
    while free:
        opposed = {ref: pairs[ref].across for ref in free if ref in pairs}
        start = {ref: first[ref] for each in free for ref in (each, opposed.get(each)) if ref is not None}
        found = fit_match(with_values(network, now), start, served, wanted, opposed)
        parts |= found
        now |= found
        nearest = {ref: winding.reachable(core, now[ref]) for ref in free} if core else {}
        missed = {ref: abs(value / now[ref] - 1) for ref, value in nearest.items()}
        worst = max(missed, key=lambda ref: missed[ref], default="")
        if not worst or missed[worst] < _REACHED:
            break
        settle(worst, nearest[worst])
        if worst in pairs:
            follow(pairs[worst])
        free.remove(worst)
    return parts


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
    return f, solve(with_values(network, values), f).s11


def with_values(
    network: Network,
    values: Mapping[str, float],
    filter: LowPassFilter | None = None,
    wound: Mapping[str, Wound] | None = None,
) -> Network:
    """The network on these values by reference; with the losses of a `filter`, whose coils may be wound."""

    def fitted(each: Part) -> Part:
        q = None
        if filter is not None:
            q = filter.capacitor_q if each.kind == "capacitor" else filter.coil_q
        if wound and each.ref in wound:
            q = wound[each.ref].quality
        return replace(each, value=values[each.ref], q=q)

    arms = tuple(
        replace(arm, parts=tuple(map(fitted, arm.parts))) for arm in network.arms if isinstance(arm, Arm)
    )
    return Network(arms, network.source_ohm, network.load_ohm)
