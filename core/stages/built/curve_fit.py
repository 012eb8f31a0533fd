"""Which parts of a filter are off, by its measured curve: a fit of all parts within their tolerances.

Least squares on the exact network between the fixture's resistances, with loss: what is measured misses by
the instrument's error, and every part by its tolerance. So a part that the curve says nothing about stays
where it was, and how far the curve narrows its tolerance down tells whether it is determined (the covariance
of the linearised problem; A. Tarantola, Inverse Problem Theory, SIAM 2005, chapter 3, from memory).

Builders look for the one part that is wrong, and a fit of all shares its error out among those that do the
same to the curve. So every part is also tried alone: those that alone explain the curve nearly as well as
all together are the suspects. A magnitude of S21 cannot tell a part from its mirror image, as a filter turned
round passes the same; only the phase of S11 can.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from math import e

import numpy as np

from core.circuits.circuit import Part
from core.circuits.fit import least_squares, slopes
from core.circuits.ladder import Array, ComplexArray, Response, frozen, solve
from core.stages.built.curve_subject import CurveFit, FittedPart, Subject, Variable
from core.stages.gate import gate
from core.stages.outcome import FilterDesign, Unsolved
from core.stages.tolerance.judging import Spreads

#: What a simple instrument is good for: error of its level [dB] and of a reflection [-], the noise it does
#: not see below [dB], and how far its 0 dB may be off [dB]; common practice, no source.
_LEVEL_DB, _REFLECTION, _FLOOR_DB, _ZERO_DB = 0.1, 0.02, 75.0, 0.3
#: What is not known of the Q of coils and capacitors [-].
_Q_SHARE = 0.4
#: How far a trimmer may stand from where it was computed [-].
_TRIMMED = 0.3
#: Points that are fitted, as more tell no more, and fewest of which anything can be told.
_POINTS, _LEAST = 201, 15
#: A part is determined where the curve narrows its tolerance down to this share of it.
_DETERMINED = 0.5
#: A part is off where it is by more than this share and its interval, a crystal by this share of its spread.
_OFF, _OFF_CRYSTAL = 0.02, 0.7
#: A weighted miss above this is no such filter's: many times what the instrument errs.
_ANOTHER = 12.0
#: Instruments are often better than that, but no better than this share of it.
_BEST = 0.4
#: By how much more misses, weighted and squared, one explanation may have and still be as good as another:
#: e to the half of it is how much less likely it is.
_AS_GOOD = 10.0
#: A part alone is tried at so many values, five times ever closer, first so many deviations to either side.
_TRIED, _WIDEST = 9, 4.0
#: The likeliest suspects are fitted exactly.
_SUSPECTS = 4
#: In a round no variable moves by more than two deviations, and by six altogether: e to the power of that.
_REACH = e**2


@gate("The fit of the measured curve")
def fit(
    design: FilterDesign,
    f_hz: Array,
    s21_db: Array,
    spreads: Spreads,
    *,
    s11: ComplexArray | None = None,
    source_ohm: float | None = None,
    load_ohm: float | None = None,
) -> CurveFit | Unsolved:
    """The parts of a filter that explain a measured curve, `f_hz` (F,) ascending [Hz] and S21 (F,) [dB].

    `s11` (F,) [-] is complex where it was measured too. `source_ohm` and `load_ohm` [ohm] are the
    fixture's, where they are not those around the filter. `Unsolved` where the curve is another filter's.
    """
    network = replace(
        design.network,
        source_ohm=design.network.source_ohm if source_ohm is None else source_ohm,
        load_ohm=design.network.load_ohm if load_ohm is None else load_ohm,
    )
    variables = _variables(design, spreads)

    def solved(f: Array, moves: Array | None) -> Response:
        return solve(network, f, values=None if moves is None else _values(variables, moves))

    return explained(
        Subject(
            rows=design.parts,
            variables=variables,
            trimmed=design.trimmed,
            span_hz=design.span_hz,
            what="filter",
            solve=solved,
            q_place=len(variables) - 1,
            zero_db=_ZERO_DB,
            points=_POINTS,
        ),
        f_hz,
        s21_db,
        s11,
    )


def explained(subject: Subject, f_hz: Array, s21_db: Array, s11: ComplexArray | None) -> CurveFit | Unsolved:
    """The parts of a subject that explain a curve measured at `f_hz` (F,) [Hz], S21 in dB; as `fit`."""
    low, high = subject.span_hz
    inside = np.flatnonzero((f_hz >= low) & (f_hz <= high))
    if inside.size < _LEAST:
        return Unsolved(
            f"This curve has {inside.size} points between {low / 1e6:.6g} and {high / 1e6:.6g} MHz, where "
            f"this {subject.what} is looked at; it runs from {f_hz[0] / 1e6:.6g} to "
            f"{f_hz[-1] / 1e6:.6g} MHz. Sweep that range with {subject.points} points, or take the curve "
            f"of this {subject.what}."
        )
    some = inside[np.unique(np.linspace(0, inside.size - 1, subject.points).astype(int))]
    f, measured_db = f_hz[some], -s21_db[some]
    back = None if s11 is None else s11[some]
    variables = subject.variables
    count = len(variables) + 1
    sigma = np.hypot(_LEVEL_DB, 8.7 * 10 ** ((np.minimum(measured_db, 200.0) - _FLOOR_DB) / 20))

    def misses(moves: Array, larger: float = 1.0) -> Array:
        found = subject.solve(f, moves[:, :-1])
        level = np.minimum(found.loss_db, 200.0) + subject.zero_db * moves[:, -1:]
        rows = [(level - measured_db) / (larger * sigma)]
        if back is not None:
            off = (found.s11 - back) / (larger * _REFLECTION)
            rows += [off.real, off.imag]
        return np.hstack([*rows, moves])

    def once(larger: float) -> tuple[Array, float]:
        """The moves of the best fit, and by how much more than it should the instrument then erred."""
        best = least_squares(partial(misses, larger=larger), count, rounds=40, largest=_REACH, settled=1e-6)
        rest = misses(best[np.newaxis])[0, :-count]
        return best, max(_BEST, float(np.sqrt(np.mean(rest**2))))

    best, larger = once(once(1.0)[1])
    if not larger < _ANOTHER:
        return _another(subject, f, measured_db, subject.solve(f, None).loss_db)
    _, jacobian = slopes(partial(misses, larger=larger), best)
    covariance = np.asarray(np.linalg.inv(jacobian.T @ jacobian), dtype=float)
    taken, made = subject.solve(f, None), subject.solve(f, best[np.newaxis, :-1])
    near = measured_db < measured_db.min() + 40
    zero = subject.zero_db * best[-1]

    def rms(loss_db: Array) -> float:
        return float(np.sqrt(np.mean((loss_db - measured_db)[near] ** 2)))

    parts = _told(subject, best, covariance)
    missed = _Missed(partial(misses, larger=larger), best, jacobian, _singles(subject))
    # What the curve taught of the parts is as many numbers, and so many misses are explained by chance.
    taught = float(np.sum(1 - np.diag(covariance)[missed.parts]))
    enough = float(np.sum(misses(best[np.newaxis], larger) ** 2)) + 2 * taught + _AS_GOOD
    costs, alone = _alone(missed, variables, parts)
    nothing = missed.refined(missed.common, [])[1]
    alone = tuple(alone[n] for n in np.argsort(costs) if costs[n] < min(enough, costs.min() + _AS_GOOD))
    as_taken = nothing < min(enough, costs.min() + _AS_GOOD)
    q_place = subject.q_place
    return CurveFit(
        f_hz=frozen(f),
        measured_db=frozen(measured_db),
        taken_db=frozen(taken.loss_db),
        fitted_db=frozen(made.loss_db[0] + zero),
        parts=parts if as_taken or len(alone) < 2 else _in_doubt(parts, alone),
        miss_before_db=rms(np.minimum(taken.loss_db, 200.0)),
        miss_db=rms(np.minimum(made.loss_db[0] + zero, 200.0)),
        q_factor=1.0 if q_place is None else float(np.exp(variables[q_place].scale * best[q_place])),
        q_plus_minus=0.0
        if q_place is None
        else 1.96 * variables[q_place].scale * float(np.sqrt(covariance[q_place, q_place])),
        moves=frozen(best[:-1].copy()),
        as_taken=as_taken,
        alone=alone,
        with_phase=back is not None,
    )


class _Missed:
    """The weighted squared misses of rows of moves, as they are when what is no part's own, Q and the
    instrument's 0 dB, is fitted anew to each row: to first order about the fit of all, `best`.

    `parts` are the places of the variables that are a part's own, `common` the moves with none of these.
    """

    def __init__(
        self, misses: Callable[[Array], Array], best: Array, jacobian: Array, parts: list[int]
    ) -> None:
        self.parts = parts
        self.common = best.copy()
        self.common[parts] = 0.0
        shared = np.delete(jacobian, parts, axis=1)
        self._shared, _ = np.linalg.qr(shared)
        self._misses = misses

    def of(self, moves: Array) -> Array:
        """For moves (rows, variables), shape (rows,)."""
        missed = self._misses(moves)
        return np.asarray(np.sum(missed**2, axis=-1) - np.sum((missed @ self._shared) ** 2, axis=-1))

    def refined(self, start: Array, alone: list[int]) -> tuple[Array, float]:
        """The moves and what they miss with only the places `alone` and what is shared moved from `start`."""
        moving = [n for n in range(start.size) if n not in self.parts or n in alone]

        def misses(moves: Array) -> Array:
            whole = np.tile(start, (len(moves), 1))
            whole[:, moving] += moves
            return self._misses(whole)

        found = start.copy()
        found[moving] += least_squares(misses, len(moving), rounds=10, largest=_REACH, settled=1e-4)
        return found, float(np.sum(self._misses(found[np.newaxis]) ** 2))


def _singles(subject: Subject) -> list[int]:
    refs = {row.ref for row in subject.rows}
    return [n for n, each in enumerate(subject.variables) if each.refs[0] in refs]


def _alone(
    missed: _Missed, variables: tuple[Variable, ...], parts: tuple[FittedPart, ...]
) -> tuple[Array, tuple[FittedPart, ...]]:
    """Each part as it explains the curve best alone, and what weighted squared misses are left (parts,)."""
    places = missed.parts
    middle, width = np.zeros(len(places)), _WIDEST
    costs = np.zeros(len(places))
    for _ in range(5):
        tried = middle[:, np.newaxis] + np.linspace(-width, width, _TRIED)
        moves = np.tile(missed.common, (tried.size, 1))
        moves[np.arange(tried.size), np.repeat(places, _TRIED)] = tried.ravel()
        left = missed.of(moves).reshape(tried.shape)
        place = (np.arange(len(places)), np.argmin(left, axis=1))
        middle, costs = tried[place], left[place]
        width *= 2 / (_TRIED - 1)
    likely = np.argsort(costs)[:_SUSPECTS]
    exact = np.full(len(places), np.inf)
    for n in likely:
        start = missed.common.copy()
        start[places[n]] = middle[n]
        found, exact[n] = missed.refined(start, [places[n]])
        middle[n] = found[places[n]]
    return exact, tuple(
        replace(part, value=value, off=_off(variables[n], value))
        for n, part, at in zip(places, parts, middle, strict=True)
        for value in (float(variables[n].at(np.array([at]))[part.row.ref][0, 0]),)
    )


def _in_doubt(parts: tuple[FittedPart, ...], suspects: tuple[FittedPart, ...]) -> tuple[FittedPart, ...]:
    """The parts where several of them may be the one that is off: the fit of all lies near one answer and
    knows nothing of the others, so that its intervals are widened to hold them.
    """
    by_ref = {each.row.ref: each for each in suspects}
    return tuple(
        replace(
            each,
            determined=False,
            is_off=False,
            plus_minus=max(each.plus_minus, *(abs(v - each.value) for v in (each.taken, other.value))),
        )
        if (other := by_ref.get(each.row.ref))
        else each
        for each in parts
    )


def _off(variable: Variable, value: float) -> float:
    taken = variable.taken[0]
    return value - taken if variable.added else value / taken - 1


def _values(variables: tuple[Variable, ...], moves: Array) -> dict[str, Array]:
    values: dict[str, Array] = {}
    for n, each in enumerate(variables):
        values |= each.at(moves[:, n])
    return values


def _variables(design: FilterDesign, spreads: Spreads) -> tuple[Variable, ...]:
    """A variable a part; then what crystals have in common; Q at the end."""
    parts = design.network.parts
    crystals = [part for part in parts if part.kind == "crystal"]
    made = []
    for part in parts:
        if part.kind == "crystal":
            made.append(Variable((part.ref,), (part.value,), max(spreads.crystal_hz, 1.0), added=True))
        else:
            made.append(Variable((part.ref,), (part.value,), _scale(design, part, spreads)))

    def together(name: str, get: Callable[[Part], float], scale: float, of: list[Part]) -> None:
        refs = tuple(f"{part.ref}.{name}" for part in of)
        made.append(Variable(refs, tuple(map(get, of)), scale))

    if crystals:
        together("lm", lambda part: part.motional_inductance_h, max(spreads.lm, 0.01), crystals)
        together("c0", lambda part: part.holder_capacitance_f, max(spreads.c0, 0.02), crystals)
    lossy = [part for part in (crystals or parts) if part.q is not None and part.kind != "capacitor"]
    together("q", lambda part: part.q or 1.0, _Q_SHARE, lossy)
    return tuple(made)


def _scale(design: FilterDesign, part: Part, spreads: Spreads) -> float:
    if part.ref in design.trimmed:
        return _TRIMMED
    # Tolerances of nothing would let nothing be found.
    share = {"capacitor": spreads.capacitor, "coupling": spreads.coupling}.get(part.kind, spreads.coil)
    return max(share, 0.01)


def _told(subject: Subject, best: Array, covariance: Array) -> tuple[FittedPart, ...]:
    rows, variables = {row.ref: row for row in subject.rows}, subject.variables
    deviations = np.sqrt(np.diag(covariance))
    found = []
    for n in _singles(subject):
        each = variables[n]
        ref, taken = each.refs[0], each.taken[0]
        deviation = float(deviations[n])
        value = float(each.at(best[n : n + 1])[ref][0, 0])
        half = 1.96 * each.scale * deviation * (1.0 if each.added else value)
        off = _off(each, value)
        least = _OFF_CRYSTAL * each.scale if each.added else _OFF
        interval = half if each.added else half / value
        determined = deviation < _DETERMINED
        found.append(
            FittedPart(
                row=rows[ref],
                taken=taken,
                value=value,
                plus_minus=half,
                off=off,
                determined=determined,
                is_off=determined and abs(off) > max(least, interval),
                trimmed=ref in subject.trimmed,
            )
        )
    return tuple(found)


def _another(subject: Subject, f: Array, measured_db: Array, loss_db: Array) -> Unsolved:
    """Why the curve is not this subject's, with the numbers."""
    off = np.minimum(loss_db, 100.0) - np.minimum(measured_db, 100.0)
    missed = float(np.sqrt(np.mean(off**2)))
    falls, should = (f[np.flatnonzero(each <= each.min() + 3)[-1]] / 1e6 for each in (measured_db, loss_db))
    return Unsolved(
        f"No parts near their tolerances make this curve, which is {missed:.3g} dB off (rms) and has lost "
        f"3 dB at {falls:.6g} MHz, where this {subject.what} has at {should:.6g} MHz; take the curve of this "
        f"{subject.what}, or state the resistances it was measured between."
    )
