"""Preferred capacitors of a ladder, chosen together by what they do inside its pass-band."""

from collections.abc import Callable, Iterable
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from core.circuits.circuit import Part
from core.circuits.ladder import Array, Network, Values, solve
from core.circuits.response import inner_part
from core.model.stages.filters import LadderFilter
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.filters.ladder_match import choice, seen_from_the_ends
from core.stages.filters.ladder_meshes import Meshes, bare_arms, meshes
from core.stages.on_hand import Shelf
from core.stages.outcome import Unsolved
from core.trade.series import PAIRS, preferred

#: A rounded filter may be so much wider or narrower at no cost, a share of the width, and what each
#: hundredth beyond that costs, dB.
_FREE_WIDTH, _WIDTH_PRICE_DB = 0.03, 0.1
#: Values whose square is this near the product of their neighbours lie midway, a logarithm [-].
_MIDWAY = 0.005
#: Pairs in parallel come so close together that values this far around are tried too, times the exact one.
_AROUND = (0.94, 0.96, 0.98, 1.0, 1.02, 1.04, 1.06)
#: How much more ripple and loss by reflection capacitors on hand may make than bought ones, dB; a choice.
_ON_HAND_DB = 0.1
#: What a decibel of ripple or reflection beyond that of the nearest values costs, so that it is never taken.
_WORSE_PRICE = 100.0


_Trials = NDArray[np.int64]


@lru_cache(maxsize=64)
def rounded_together(asked: AskedLadder, counted: float = 1.0) -> tuple[tuple[str, float], ...]:
    """Preferred values chosen together: those with the least ripple and reflection in the pass-band.

    Begins with the nearest values and moves one or two mirrored capacitors to their other neighbours as long
    as that lowers ripple plus loss by reflection over the inner 80 % of the −3 dB width, with the crystals'
    own Q. Neither may be worse than with the nearest values; where the band lies is free, as the carrier
    follows. Capacitors that are pairs in parallel have several neighbours and move one at a time: so they
    make up for turns that do not meet the end resistance. Capacitors of the shelf then take their place where
    the pass-band is hardly worse for it. All moves of a round are one broadcast solution.
    The IF need not be exact; `counted` is the share of the crystals' loss that the couplings count [-].
    """
    ladder, fs_hz = asked.ladder, asked.fs_hz
    solved = meshes(ladder, fs_hz, counted)
    if isinstance(solved, Unsolved) or ladder.crystal is None or ladder.capacitors == "exact":
        return ()
    arms = bare_arms(ladder, solved, fs_hz)
    capacitors = [p for arm in arms for p in arm.parts if p.kind == "capacitor"]
    exact = {p.ref: p.value for p in capacitors}
    groups = _alike(ladder, capacitors)
    candidates = [_candidates(exact[group[0]], asked) for group in groups]
    options, counts = _in_rows(candidates)
    ends = seen_from_the_ends(ladder, solved.end_ohm)
    judge = _Judge(Network(arms, ends, ends), solved)
    wanted = np.array([exact[group[0]] for group in groups])
    there = np.arange(options.shape[1]) < counts[:, None]
    far = np.where(there, np.abs(np.log(options / wanted[:, None])), np.inf)
    start = far.argmin(axis=1)

    def figures_of(trials: _Trials) -> Array:
        chosen = options[np.arange(len(groups)), trials]
        return judge.figures({ref: chosen[:, [n]] for n, group in enumerate(groups) for ref in group})

    # A value midway between its neighbours has two nearest ones; the choice is held against both.
    second = far.copy()
    second[np.arange(len(groups)), start] = np.inf
    others = []
    for midway in np.flatnonzero(second.min(axis=1) < far.min(axis=1) + _MIDWAY):
        others.append(start.copy())
        others[-1][midway] = second[midway].argmin()
    nearest = np.vstack([start, *others])
    found = figures_of(nearest)
    begin, limits = int(np.argmin(found[0] + found[1])), found.min(axis=1, keepdims=True)
    picked = _descended(
        nearest[begin],
        counts,
        figures_of,
        limits,
        reflects=ladder.flatness == "as_designed" or counted == 0,
        by_twos=ladder.capacitors not in PAIRS,
    )
    values = options[np.arange(len(groups)), picked]
    if asked.shelf:
        values = _from_the_shelf(values, wanted, groups, asked.shelf, judge.figures)
    return tuple((ref, float(values[n])) for n, group in enumerate(groups) for ref in group)


def _from_the_shelf(
    bought: Array,
    wanted: Array,
    groups: list[list[str]],
    shelf: Shelf,
    judge: Callable[[Values], Array],
) -> Array:
    """Values of the groups, shape (groups,) [F], of which as few as can be are `bought`; `wanted` are exact.

    Neither ripple nor loss by reflection may be more than _ON_HAND_DB above those of the bought ones, nor the
    width be further off. Sought from the bought values and from the nearest on hand by moves of one group or
    two, those that break a limit less or buy fewer pieces first, then those of less ripple and reflection.
    """
    near = [shelf.near(value, len(group)) for value, group in zip(wanted, groups, strict=True)]
    options, counts = _in_rows([[float(one), *each] for one, each in zip(bought, near, strict=True)])
    if not (counts > 1).any():
        return bought
    places, pieces = np.arange(len(groups)), np.array([len(each) for each in groups])

    def figures_of(trials: _Trials) -> Array:
        chosen = options[places, trials]
        return judge({ref: chosen[:, [n]] for n, group in enumerate(groups) for ref in group})

    limits = figures_of(np.zeros((1, len(groups)), dtype=int))
    limits[:2] += _ON_HAND_DB
    limits[2] = np.maximum(limits[2], _FREE_WIDTH)

    def costs(trials: _Trials) -> Array:
        found = figures_of(trials)
        beyond = np.maximum(found - limits, 0.0).sum(axis=0)
        lacking = np.array([not shelf.holds(_taken(options, row, groups)) for row in trials])
        buys = ((trials == 0) * pieces).sum(axis=1)
        return np.asarray(_WORSE_PRICE * beyond * pieces.sum() + 1e9 * lacking + buys + found[0] + found[1])

    starts = np.vstack([np.zeros(len(groups), dtype=int), np.minimum(counts - 1, 1)])
    ends = np.vstack([_reached(start, counts, costs) for start in starts])
    return np.asarray(options[places, ends[np.argmin(costs(ends))]])


def _taken(options: Array, row: _Trials, groups: list[list[str]]) -> list[float]:
    return [options[n, each] for n, each in enumerate(row) if each for _ in groups[n]]


def _reached(start: _Trials, counts: _Trials, costs: Callable[[_Trials], Array]) -> _Trials:
    """The choice that costs least on the way down from `start`, changing one group at a time or two."""
    at, best = start, float(costs(start[None, :])[0])
    every = [(n, value) for n in range(start.size) for value in range(counts[n])]
    while True:
        for pairs in (((one,) for one in every), combinations(every, 2)):
            rows = []
            for changes in pairs:
                row = at.copy()
                for n, value in changes:
                    row[n] = value
                rows.append(row)
            trials = np.unique(np.array(rows), axis=0)
            cost = costs(trials)
            pick = int(np.argmin(cost))
            if cost[pick] < best - 1e-6:
                at, best = trials[pick], float(cost[pick])
                break
        else:
            return at


def _candidates(value: float, asked: AskedLadder) -> list[float]:
    """The values that a capacitor of `value` [F] may get, ascending."""
    series = asked.ladder.capacitors
    if series not in PAIRS:
        return sorted(set(choice(value, asked)))
    return sorted({preferred(around * value, series) for around in _AROUND})


def _in_rows(candidates: list[list[float]]) -> tuple[Array, _Trials]:
    """Candidates as rows of one length (groups, most), the last repeated, and how many there are of each."""
    most = max(map(len, candidates), default=0)
    rows = [[*each, *each[-1:] * (most - len(each))] for each in candidates]
    return np.array(rows).reshape(-1, most), np.array([len(each) for each in candidates])


def _descended(
    start: _Trials,
    counts: _Trials,
    figures_of: Callable[[_Trials], Array],
    limits: Array,
    *,
    reflects: bool,
    by_twos: bool,
) -> _Trials:
    """The choice reached from `start` by moves of one group, or `by_twos` of two, that keep the limits.

    A choice is a row of numbers below `counts`: which candidate each group gets. Where nothing `reflects`,
    only ripple counts: a ladder kept flat in spite of its loss reflects in the middle what it would lose
    less.
    """
    one = np.eye(start.size, dtype=int)
    single = np.vstack([one, -one])
    pairs = [
        up * one[i] + other * one[j]
        for i in range(start.size)
        for j in range(i)
        for up in (1, -1)
        for other in (1, -1)
        if by_twos
    ]
    double = np.array(pairs, dtype=int).reshape(-1, start.size)

    def costs(trials: _Trials) -> Array:
        found = figures_of(trials)
        ripple, reflected, off = found
        width = 100 * _WIDTH_PRICE_DB * np.maximum(off - _FREE_WIDTH, 0.0)
        price = ripple + reflected if reflects else ripple
        beyond = np.maximum(found - np.maximum(limits, [[0.0], [0.0], [_FREE_WIDTH]]), 0.0).sum(axis=0)
        return np.asarray(price + width + _WORSE_PRICE * beyond)

    at, best, moves = start, float(costs(start[None, :])[0]), single
    while True:
        trials = at + moves
        trials = trials[((trials >= 0) & (trials < counts)).all(axis=1)]
        cost = costs(trials) if trials.size else np.array([np.inf])
        pick = int(np.argmin(cost))
        if cost[pick] < best - 1e-6:
            at, best, moves = trials[pick], float(cost[pick]), single
        elif moves is single and double.size:
            # No single move helps any more; two at once may.
            moves = double
        else:
            return at


def _alike(ladder: LadderFilter, capacitors: Iterable[Part]) -> list[list[str]]:
    """The capacitors that get one value: those of one role that want the same, all of paired ends."""
    groups: dict[tuple[str, str], list[str]] = {}
    for part in capacitors:
        # That all capacitors are one value is what paired ends are built for.
        key = "" if ladder.shape == "paired_ends" else f"{part.value:.6g}"
        groups.setdefault((part.role, key), []).append(part.ref)
    return list(groups.values())


class _Judge:
    """What capacitors do to a ladder's pass-band, many sets at once."""

    def __init__(self, network: Network, solved: Meshes) -> None:
        self._network = network
        width = solved.high_hz - solved.low_hz
        f = np.linspace(solved.low_hz - 0.6 * width, solved.high_hz + 0.6 * width, 111)
        low, high = _three_db_edges(f, solve(network, f).loss_db[np.newaxis])
        middle, self._width = float(low[0] + high[0]) / 2, float(high[0] - low[0])
        self._f = middle + self._width * np.linspace(-0.62, 0.62, 55)

    def figures(self, values: Values) -> NDArray[np.float64]:
        """Ripple and the loss by the worst reflection over the inner 80 % of the −3 dB width [dB], and how
        far that width is off the exact filter's [-]; shape (3, rows).
        """
        response = solve(self._network, self._f, values=values)
        loss, reflected = response.loss_db, np.abs(response.s11) ** 2
        low, high = _three_db_edges(self._f, loss)
        ends = np.stack(inner_part(low, high), axis=-1)
        inner = (self._f >= ends[:, :1]) & (self._f <= ends[:, 1:])
        # At the very ends, where reflection grows fast, by straight lines between points.
        loss_there, reflected_there = (_between(self._f, each, ends) for each in (loss, reflected))
        most = np.maximum(np.where(inner, loss, -np.inf).max(axis=-1), loss_there.max(axis=-1))
        ripple = most - np.where(inner, loss, np.inf).min(axis=-1)
        worst = np.maximum(np.where(inner, reflected, 0.0).max(axis=-1), reflected_there.max(axis=-1))
        lost = -10 * np.log10(np.maximum(1 - worst, 1e-6))
        return np.array([ripple, lost, np.abs((high - low) / self._width - 1)])


def _between(f_hz: Array, rows: Array, at_hz: Array) -> Array:
    """Rows of values (rows, F) on an even grid (F,) [Hz] at places of each row (rows, 2) [Hz]."""
    place = np.clip((at_hz - f_hz[0]) / (f_hz[1] - f_hz[0]), 0, f_hz.size - 1.001)
    left = place.astype(int)
    there = np.arange(rows.shape[0])[:, None]
    return np.asarray(rows[there, left] + (place - left) * (rows[there, left + 1] - rows[there, left]))


def _three_db_edges(f_hz: Array, loss_db: Array) -> tuple[Array, Array]:
    """Outer −3 dB frequencies [Hz] of rows of losses, shape (rows, F), by straight lines between points."""
    over = loss_db - loss_db.min(axis=-1, keepdims=True) - 3.0
    passed, rows, last = over <= 0, np.arange(over.shape[0]), f_hz.size - 1

    def between(inside: NDArray[np.int64], outside: NDArray[np.int64]) -> Array:
        a, b = over[rows, inside], over[rows, outside]
        share = np.where(inside == outside, 0.0, a / np.where(a == b, 1.0, a - b))
        return np.asarray(f_hz[inside] + share * (f_hz[outside] - f_hz[inside]))

    first, final = passed.argmax(axis=-1), last - passed[:, ::-1].argmax(axis=-1)
    return between(first, np.maximum(first - 1, 0)), between(final, np.minimum(final + 1, last))
