"""A crystal's motional parameters from a measured sweep of S21: method (d) of `crystals`."""

from dataclasses import replace
from math import e, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.fit import least_squares, slopes
from core.circuits.ladder import Array, ComplexArray
from core.stages.crystals.crystals import (
    HOLDER_ERROR_F,
    LEVEL_ERROR_DB,
    CrystalParameters,
    Fixture,
    checked,
)
from core.stages.outcome import Unsolved

#: Fewer points than this determine nothing.
_LEAST_POINTS = 12
#: The rms miss of S21 [-] above which the sweep is not that of a crystal in series.
_LARGEST_MISS = 0.1


def transmission(found: CrystalParameters, f_hz: Array, fixture: Fixture) -> ComplexArray:
    """S21 of a crystal in series between the fixture's resistances, shape (F,), at `f_hz` [Hz].

    Against a wire in its place, or against the available power, as the fixture says; between equal
    resistances both are the same.
    """
    return _transmission(found.fs_hz, found.lm_h, found.rm_ohm or 0.0, found.c0_f, f_hz, fixture)


def _transmission(
    fs_hz: ArrayLike, lm_h: ArrayLike, rm_ohm: ArrayLike, c0_f: ArrayLike, f_hz: Array, fixture: Fixture
) -> ComplexArray:
    """S21 of crystals of these parameters; all shapes broadcast."""
    w, ws = 2 * pi * f_hz, 2 * pi * np.asarray(fs_hz)
    motional = np.asarray(rm_ohm) + 1j * np.asarray(lm_h) * (w - ws) * (w + ws) / w
    z = motional / (1 + 1j * w * np.asarray(c0_f) * motional)
    return np.asarray(_full_scale(fixture) * fixture.around_ohm / (fixture.around_ohm + z))


def _full_scale(fixture: Fixture) -> float:
    """|S21| of a wire in the crystal's place."""
    if fixture.to_a_wire:
        return 1.0
    return 2 * sqrt(fixture.source_ohm * fixture.load_ohm) / fixture.around_ohm


def from_sweep(
    label: str, f_hz: Array, s21: ComplexArray, fixture: Fixture, *, magnitude_only: bool = False
) -> CrystalParameters | Unsolved:
    """Method (d): least squares on a measured sweep, `f_hz` (F,) [Hz] and S21 (F,), complex or magnitude.

    The order of the points does not matter. The fit is in log Lm, fs, log Rm, log C0; the start comes from
    the peak, its −3 dB width and the dip above it. The 95 % interval is that of the linearised problem with
    each point's own residual as its variance (White's estimator), so that noise which grows with the level
    is counted too; what the fixture's errors add is found by the same linear problem from the change that
    each error makes. A C0 that the fixture gives as measured is kept, and the other three are fitted with it.
    """
    if f_hz.size < _LEAST_POINTS:
        return Unsolved(f"{label}: a sweep of {f_hz.size} points is too coarse to fit; take 50 or more.")
    order = np.argsort(f_hz)
    f_hz, s21 = f_hz[order], s21[order]
    size = np.abs(s21)
    top = int(np.argmax(size))
    if top in (0, f_hz.size - 1):
        return Unsolved(
            f"{label}: the sweep does not hold the series resonance; sweep further to both sides."
        )
    wide = np.flatnonzero(size > size[top] / sqrt(2))
    width = max(float(f_hz[wide[-1]] - f_hz[wide[0]]), float(f_hz[1] - f_hz[0]))

    start = _start(f_hz, size, top, width, fixture)
    count = 3 if fixture.c0_measured else 4

    def values(moves: Array, fixture: Fixture) -> tuple[Array, Array, Array, Array]:
        """fs, Lm, Rm and C0, each of shape (rows, 1), for rows of moves from the start."""
        p = start[:count] + moves
        c0 = np.exp(p[:, 3:]) if count == 4 else np.full((len(p), 1), fixture.c0_f)
        return f_hz[top] + width * p[:, 1:2], np.exp(p[:, :1]), np.exp(p[:, 2:3]), c0

    def misses(moves: Array, fixture: Fixture = fixture, gain: float = 1.0) -> Array:
        s = gain * _transmission(*values(moves, fixture), f_hz, fixture)
        return np.abs(s) - size if magnitude_only else np.hstack([(s - s21).real, (s - s21).imag])

    p = least_squares(misses, count, rounds=60, largest=e, settled=1e-13)
    miss, jacobian = slopes(misses, p)
    spare = miss.size - p.size
    # Parameters that are no numbers miss by no number, which is not below the limit either.
    if not float(miss @ miss) / spare < _LARGEST_MISS**2:
        return Unsolved(
            f"{label}: no crystal fits this sweep; check fixture and file (S21 of a crystal in series)."
        )
    step = np.linalg.pinv(jacobian.T @ jacobian)
    weighted = jacobian * miss[:, None]
    scatter = np.zeros((4, 4))
    scatter[: p.size, : p.size] = step @ (weighted.T @ weighted) @ step * (miss.size / spare)
    fs, lm, rm, c0 = (float(each[0, 0]) for each in values(p[np.newaxis], fixture))
    found = CrystalParameters(label=label, fs_hz=fs, lm_h=lm, c0_f=c0, rm_ohm=rm, ratio_measured=True)
    own = _spread(found, width, 1.96 * _deviations(scatter))
    gain = 10 ** (LEVEL_ERROR_DB / 20)
    at = p[np.newaxis]
    wrong = [(misses(at, up)[0], misses(at, down)[0]) for up, down in fixture.misjudged()]
    wrong.append((misses(at, gain=gain)[0], misses(at, gain=1 / gain)[0]))
    along = np.zeros((len(wrong), 2, 5))
    for pair, found_so in zip(along, wrong, strict=True):
        for line, miss_so in zip(pair, found_so, strict=True):
            line[: p.size] = -step @ (jacobian.T @ (miss_so - miss))
            line[4] = line[0] - line[2]
    worst = np.abs(along).max(axis=1).sum(axis=0)
    # All but fs are logarithms.
    worst[[0, 2, 3, 4]] = np.expm1(worst[[0, 2, 3, 4]])
    fixed = dict(_spread(found, width, worst))
    fixed["c0_f"] += HOLDER_ERROR_F
    return checked(replace(found, spread=own, fixture_spread=tuple(fixed.items())))


def _start(f_hz: Array, size: Array, top: int, width: float, fixture: Fixture) -> Array:
    """Where the fit begins: log Lm, offset of fs, log Rm, log C0."""
    around = fixture.around_ohm
    rm = max(around * (min(_full_scale(fixture) / size[top], 1e3) - 1), 0.05)
    lm = (around + rm) / (2 * pi * width)
    cm = 1 / ((2 * pi * f_hz[top]) ** 2 * lm)
    above = f_hz[top:][int(np.argmin(size[top:]))]
    spacing = max((above / f_hz[top]) ** 2 - 1, 1e-9)
    c0 = float(np.clip(cm / spacing, cm * 160, cm * 2000))
    return np.array([np.log(lm), 0.0, np.log(rm), np.log(c0)])


def _deviations(scatter: Array) -> Array:
    """Standard deviations of log Lm, fs (in widths), log Rm, log C0 and of log Q = log Lm − log Rm + ..."""
    # Q goes with Lm over Rm, whose errors are not independent of each other.
    of_q = scatter[0, 0] + scatter[2, 2] - 2 * scatter[0, 2]
    return np.sqrt(np.abs(np.append(np.diag(scatter), of_q)))


def _spread(found: CrystalParameters, width: float, deviations: Array) -> tuple[tuple[str, float], ...]:
    """Half-widths by figure from deviations of log Lm, fs in widths, log Rm, log C0, log Q, shape (5,)."""
    lm, fs, rm, c0, q = (float(v) for v in deviations)
    return (
        ("fs_hz", width * fs),
        ("lm_h", found.lm_h * lm),
        ("cm_f", found.cm_f * lm),
        ("rm_ohm", (found.rm_ohm or 0.0) * rm),
        ("c0_f", found.c0_f * c0),
        ("q", (found.q or 0.0) * q),
    )
