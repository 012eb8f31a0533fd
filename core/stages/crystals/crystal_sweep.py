"""A crystal's motional parameters from a measured sweep of S21: method (d) of `crystals`."""

from collections.abc import Callable
from dataclasses import replace
from math import pi, sqrt

import numpy as np

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
    w, ws = 2 * pi * f_hz, 2 * pi * found.fs_hz
    motional = (found.rm_ohm or 0.0) + 1j * found.lm_h * (w - ws) * (w + ws) / w
    z = motional / (1 + 1j * w * found.c0_f * motional)
    return _full_scale(fixture) * fixture.around_ohm / (fixture.around_ohm + z)


def _full_scale(fixture: Fixture) -> float:
    """|S21| of a wire in the crystal's place."""
    if fixture.to_a_wire:
        return 1.0
    return 2 * sqrt(fixture.source_ohm * fixture.load_ohm) / fixture.around_ohm


def from_sweep(
    label: str, f_hz: Array, s21: ComplexArray, fixture: Fixture, *, magnitude_only: bool = False
) -> CrystalParameters | Unsolved:
    """Method (d): least squares on a measured sweep, `f_hz` (F,) [Hz] and S21 (F,), complex or magnitude.

    The order of the points does not matter. Gauss and Newton's method with Marquardt's damping on log Lm, fs,
    log Rm, log C0; the start comes from the peak, its −3 dB width and the dip above it. The 95 % interval is
    that of the linearised problem with each point's own residual as its variance (White's estimator), so that
    noise which grows with the level is counted too; what the fixture's errors add is found by the same linear
    problem from the change that each error makes. A C0 that the fixture gives as measured is kept, and the
    other three are fitted with it.
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

    def parameters(p: Array, fixture: Fixture = fixture) -> CrystalParameters:
        lm, rm = (float(v) for v in np.exp(p[[0, 2]]))
        c0 = fixture.c0_f if fixture.c0_measured else float(np.exp(p[3]))
        fs = float(f_hz[top] + width * p[1])
        return CrystalParameters(label=label, fs_hz=fs, lm_h=lm, c0_f=c0, rm_ohm=rm, ratio_measured=True)

    def misses(p: Array, fixture: Fixture = fixture, gain: float = 1.0) -> Array:
        s = gain * transmission(parameters(p, fixture), f_hz, fixture)
        return np.abs(s) - size if magnitude_only else np.concatenate([(s - s21).real, (s - s21).imag])

    start = _start(f_hz, size, top, width, fixture)[: 3 if fixture.c0_measured else 4]
    p, jacobian, miss = _least_squares(misses, start)
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
    found = parameters(p)
    own = _spread(found, width, 1.96 * _deviations(scatter))
    gain = 10 ** (LEVEL_ERROR_DB / 20)
    wrong = [(misses(p, up), misses(p, down)) for up, down in fixture.misjudged()]
    along = np.zeros((len(wrong) + 1, 2, 5))
    for pair, found_so in zip(along, [*wrong, (misses(p, gain=gain), misses(p, gain=1 / gain))], strict=True):
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


def _least_squares(misses: Callable[[Array], Array], start: Array) -> tuple[Array, Array, Array]:
    """Marquardt's method with a numerical Jacobian; parameters, Jacobian and misses at the end."""
    p, step, damping = start, 1e-6, 1e-3
    miss = misses(p)
    jacobian = np.empty((miss.size, p.size))
    for _ in range(60):
        for column in range(p.size):
            moved = p.copy()
            moved[column] += step
            jacobian[:, column] = (misses(moved) - miss) / step
        normal, slope = jacobian.T @ jacobian, jacobian.T @ miss
        for _ in range(12):
            move = np.linalg.solve(normal + damping * np.diag(np.maximum(np.diag(normal), 1e-12)), -slope)
            trial = p + np.clip(move, -1.0, 1.0)
            new = misses(trial)
            if new @ new < miss @ miss:
                break
            damping *= 5
        else:
            break
        done = miss @ miss - new @ new < 1e-13 * (miss @ miss)
        p, miss, damping = trial, new, max(damping / 5, 1e-12)
        if done:
            break
    return p, jacobian, miss
