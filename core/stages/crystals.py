"""From readings on the bench to a crystal's motional parameters, and which crystal goes where.

Terms after IEC 60122-1: series arm Lm, Cm, Rm with the holder capacitance C0 across; fs = 1/(2π√(LmCm)).
Relations: (a) Rm = (Rs + Rl)(10^(loss/20) − 1), Lm = (Rs + Rl + Rm)/(2πB); (b) fL = fs √(1 + Cm/(C0 + CL))
for a total load CL (with C0 neglected: QST January 1961 p. 60); (c) fp = fs √(1 + Cm/C0); (d) least squares
on S21 of the crystal between two resistances.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array, ComplexArray
from core.model.bench import CrystalMethod
from core.stages.outcome import Unsolved

#: C0/Cm below which no AT-cut plate can lie (π²/(8 k²), k = 8.8 %), and below which it is doubtful.
LEAST_CAPACITANCE_RATIO, DOUBTFUL_CAPACITANCE_RATIO = 159.0, 200.0

Method = CrystalMethod


@dataclass(frozen=True, slots=True)
class CrystalParameters:
    """Motional parameters of one crystal in SI units; `rm_ohm` is None where the method cannot tell it.

    `spread` holds the half-width of the 95 % confidence interval by name, for fits only.
    """

    label: str
    fs_hz: float
    lm_h: float
    cm_f: float
    c0_f: float
    rm_ohm: float | None = None
    doubt: str = ""
    spread: tuple[tuple[str, float], ...] = ()

    @property
    def q(self) -> float | None:
        """Unloaded quality factor [-]; None without Rm."""
        return None if not self.rm_ohm else 2 * pi * self.fs_hz * self.lm_h / self.rm_ohm

    @property
    def fp_hz(self) -> float:
        """Parallel resonance, Hz."""
        return self.fs_hz * sqrt(1 + self.cm_f / self.c0_f)


@dataclass(frozen=True, slots=True)
class Fixture:
    """What the readings were taken with: source and load resistance at the crystal [ohm], the capacitor of
    methods (b) and (c) [F], the oscillator's own load capacitance [F], and C0 where it is known [F].
    """

    source_ohm: float = 50.0
    load_ohm: float = 50.0
    capacitor_f: float = 33e-12
    load_capacitance_f: float | None = None
    c0_f: float = 3.5e-12


def _checked(found: CrystalParameters) -> CrystalParameters | Unsolved:
    """Refuse what cannot be a quartz crystal; mark what is doubtful."""
    figures = (found.fs_hz, found.lm_h, found.cm_f, found.c0_f, found.rm_ohm or 1.0)
    if not all(isfinite(v) and v > 0 for v in figures):
        return Unsolved(
            f"{found.label}: these readings give no positive inductance and capacitance; read again."
        )
    ratio = found.c0_f / found.cm_f
    if ratio < LEAST_CAPACITANCE_RATIO:
        return Unsolved(
            f"{found.label}: C0/Cm would be {ratio:.0f}, below the "
            f"{LEAST_CAPACITANCE_RATIO:.0f} that quartz allows; check the fixture's values and read again."
        )
    if ratio < DOUBTFUL_CAPACITANCE_RATIO:
        return replace(found, doubt=f"C0/Cm of {ratio:.0f} is unusually low")
    return found


def _motional(
    label: str, fs_hz: float, cm_f: float, c0_f: float, rm_ohm: float | None = None
) -> CrystalParameters:
    lm = 1 / ((2 * pi * fs_hz) ** 2 * cm_f) if cm_f > 0 else float("nan")
    return CrystalParameters(label, fs_hz, lm, cm_f, c0_f, rm_ohm)


def from_bandwidth(
    label: str, peak_hz: float, bandwidth_hz: float, loss_db: float, fixture: Fixture
) -> CrystalParameters | Unsolved:
    """Method (a): peak [Hz], −3 dB bandwidth [Hz] and insertion loss [dB] in a fixture of known resistance.

    Neglecting C0 errs by about 0.1 % at 50 ohm and less in a lower fixture.
    """
    around = fixture.source_ohm + fixture.load_ohm
    if bandwidth_hz <= 0 or peak_hz <= 0:
        return Unsolved(f"{label}: peak and bandwidth must be above zero; read again.")
    if loss_db <= 0:
        return Unsolved(
            f"{label}: a crystal always loses something; a loss of {loss_db:g} dB cannot be, read again."
        )
    rm = around * (10 ** (loss_db / 20) - 1)
    lm = (around + rm) / (2 * pi * bandwidth_hz)
    cm = 1 / ((2 * pi * peak_hz) ** 2 * lm)
    return _checked(CrystalParameters(label, peak_hz, lm, cm, fixture.c0_f, rm))


def from_series_capacitor(
    label: str, plain_hz: float, shifted_hz: float, fixture: Fixture
) -> CrystalParameters | Unsolved:
    """Method (b): oscillator frequency without and with a known capacitor in series [Hz].

    The oscillator's own load capacitance counts when it is given; without it the plain frequency is
    taken as series resonance. Exact: ρ = (f2/f1)² − 1, u = 1/(C0+CL2) − 1/(C0+CL1),
    Cm = ρ/(u − ρ/(C0+CL1)).
    """
    if shifted_hz <= plain_hz:
        return Unsolved(
            f"{label}: a series capacitor raises the frequency; these readings show no rise, read again."
        )
    rho = (shifted_hz / plain_hz) ** 2 - 1
    own = fixture.load_capacitance_f
    first = 0.0 if own is None else 1 / (fixture.c0_f + own)
    together = fixture.capacitor_f if own is None else 1 / (1 / own + 1 / fixture.capacitor_f)
    cm = rho / (1 / (fixture.c0_f + together) - first - rho * first)
    fs = plain_hz / sqrt(1 + cm * first) if cm > 0 else plain_hz
    return _checked(_motional(label, fs, cm, fixture.c0_f))


def from_parallel_resonance(
    label: str, fs_hz: float, fp_hz: float, fixture: Fixture, with_capacitor_hz: float | None = None
) -> CrystalParameters | Unsolved:
    """Method (c): series and parallel resonance [Hz] with C0 known, or measured by a second parallel
    resonance with the fixture's capacitor across the crystal.

    r = (fp/fs)² − 1; Cm = r C0, and C0 = Cx/(r1/r2 − 1) from the second reading.
    """
    if fp_hz <= fs_hz:
        return Unsolved(f"{label}: parallel resonance must lie above series resonance; read both again.")
    ratio = (fp_hz / fs_hz) ** 2 - 1
    c0 = fixture.c0_f
    if with_capacitor_hz is not None:
        second = (with_capacitor_hz / fs_hz) ** 2 - 1
        if not 0 < second < ratio:
            return Unsolved(
                f"{label}: a capacitor across the crystal lowers parallel resonance; read it again."
            )
        c0 = fixture.capacitor_f / (ratio / second - 1)
    return _checked(_motional(label, fs_hz, ratio * c0, c0))


def transmission(found: CrystalParameters, f_hz: Array, fixture: Fixture) -> ComplexArray:
    """S21 of a crystal in series between the fixture's resistances, shape (F,), at `f_hz` [Hz]."""
    w, ws = 2 * pi * f_hz, 2 * pi * found.fs_hz
    motional = (found.rm_ohm or 0.0) + 1j * found.lm_h * (w - ws) * (w + ws) / w
    z = motional / (1 + 1j * w * found.c0_f * motional)
    return 2 * sqrt(fixture.source_ohm * fixture.load_ohm) / (fixture.source_ohm + fixture.load_ohm + z)


def from_sweep(
    label: str, f_hz: Array, s21: ComplexArray, fixture: Fixture, *, magnitude_only: bool = False
) -> CrystalParameters | Unsolved:
    """Method (d): least squares on a measured sweep, `f_hz` (F,) [Hz] and S21 (F,), complex or magnitude.

    Gauss and Newton's method with Marquardt's damping on log Lm, fs, log Rm, log C0; the start comes from the
    peak, its −3 dB width and the dip above it. The confidence interval (95 %) is that of the linearised
    problem with the residual's own variance.
    """
    if f_hz.size < 12:
        return Unsolved(f"{label}: a sweep of {f_hz.size} points is too coarse to fit; take 50 or more.")
    size = np.abs(s21)
    top = int(np.argmax(size))
    if top in (0, f_hz.size - 1):
        return Unsolved(
            f"{label}: the sweep does not hold the series resonance; sweep further to both sides."
        )
    wide = np.flatnonzero(size > size[top] / sqrt(2))
    width = max(float(f_hz[wide[-1]] - f_hz[wide[0]]), float(f_hz[1] - f_hz[0]))
    around = fixture.source_ohm + fixture.load_ohm
    rm = max(
        around * (min(2 * sqrt(fixture.source_ohm * fixture.load_ohm) / around / size[top], 1e3) - 1), 0.05
    )
    lm = (around + rm) / (2 * pi * width)
    cm = 1 / ((2 * pi * f_hz[top]) ** 2 * lm)
    above = f_hz[top:][int(np.argmin(size[top:]))]
    spacing = max((above / f_hz[top]) ** 2 - 1, 1e-9)
    c0 = float(np.clip(cm / spacing, cm * 160, cm * 2000))
    start = np.array([np.log(lm), 0.0, np.log(rm), np.log(c0)])

    def model(p: Array) -> ComplexArray:
        found = CrystalParameters(
            label,
            float(f_hz[top] + width * p[1]),
            float(np.exp(p[0])),
            1.0,
            float(np.exp(p[3])),
            float(np.exp(p[2])),
        )
        return transmission(found, f_hz, fixture)

    def misses(p: Array) -> Array:
        s = model(p)
        if magnitude_only:
            return np.abs(s) - size
        return np.concatenate([(s - s21).real, (s - s21).imag])

    p, jacobian, miss = _least_squares(misses, start)
    if not np.all(np.isfinite(p)):
        return Unsolved(f"{label}: no crystal fits this sweep; check that it is S21 of a crystal in series.")
    variance = float(miss @ miss) / max(miss.size - p.size, 1)
    scatter = np.linalg.pinv(jacobian.T @ jacobian) * variance
    deviation = 1.96 * np.sqrt(np.abs(np.diag(scatter)))
    # Q goes with Lm over Rm, whose errors are not independent of each other.
    of_q = 1.96 * sqrt(abs(scatter[0, 0] + scatter[2, 2] - 2 * scatter[0, 2]))
    lm, fs, rm, c0 = (float(v) for v in (np.exp(p[0]), f_hz[top] + width * p[1], np.exp(p[2]), np.exp(p[3])))
    fit_error = sqrt(variance)
    if fit_error > 0.1:
        return Unsolved(
            f"{label}: no crystal fits this sweep (residual {fit_error:.2f}); check fixture and file."
        )
    cm, q = 1 / ((2 * pi * fs) ** 2 * lm), 2 * pi * fs * lm / rm
    spread = (
        ("fs_hz", float(width * deviation[1])),
        ("lm_h", lm * float(deviation[0])),
        ("cm_f", cm * float(deviation[0])),
        ("rm_ohm", rm * float(deviation[2])),
        ("c0_f", c0 * float(deviation[3])),
        ("q", q * of_q),
    )
    found = replace(_motional(label, fs, cm, c0, rm), lm_h=lm, spread=spread)
    return _checked(found)


def _least_squares(misses, start: Array) -> tuple[Array, Array, Array]:  # type: ignore[no-untyped-def]
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


@dataclass(frozen=True, slots=True)
class Placed:
    """A crystal in a mesh (from 1): how far its mesh then lies from the wanted frequency, Hz.

    `ref` is the crystal's reference in the ladder, which tells two in parallel apart.
    """

    mesh: int
    label: str
    error_hz: float
    ref: str


@dataclass(frozen=True, slots=True)
class Placement:
    """The choice, the frequency all meshes come near [Hz], and the rms error against simpler ways [Hz].

    `doubt` is a sentence where the choice makes little sense, else empty.
    """

    placed: tuple[Placed, ...]
    centre_hz: float
    rms_hz: float
    sorted_rms_hz: float
    random_rms_hz: float
    doubt: str = ""


def mesh_frequencies(batch: Sequence[CrystalParameters], wanted_ohm: Array) -> NDArray[np.float64]:
    """Where each mesh resonates with each crystal in it, shape (crystals, meshes), Hz.

    `wanted_ohm`, shape (meshes,), is the reactance that the mesh's capacitors leave for the crystal to have.
    Solves X(f) = wanted for the crystal's reactance with C0 across, above series resonance.
    """
    fs = np.array([[each.fs_hz] for each in batch])
    lm = np.array([[each.lm_h] for each in batch])
    c0 = np.array([[each.c0_f] for each in batch])
    w0 = 2 * pi * fs
    # X = Xm/(1 − w C0 Xm): the series arm must have Xm = X/(1 + w C0 X), with w as good as ws over a filter.
    motional = wanted_ohm / (1 + w0 * c0 * wanted_ohm)
    # Lm (w² − ws²)/w = Xm, the quadratic in w.
    w = motional / (2 * lm) + np.sqrt((motional / (2 * lm)) ** 2 + w0**2)
    return np.asarray(w / (2 * pi))


def place(
    batch: Sequence[CrystalParameters], wanted_ohm: Array, refs: Sequence[Sequence[str]] | None = None
) -> Placement | Unsolved:
    """Choose and place crystals so that every mesh lands nearest one common frequency.

    `wanted_ohm` has the reactance each crystal must bring, in the order of `refs`, the references of the
    crystals of each mesh (one a mesh when they are not given). Of two in parallel each is judged as if its
    mesh had two of it; the mesh lands in their middle.

    scipy's assignment solver on squared errors, for every candidate of the common frequency; the best
    after re-centring is taken. Compared with as many crystals that lie closest together, put in by
    their frequency, and with the mean of random choices.
    """
    meshes = wanted_ohm.size
    by_mesh = refs or [(f"X{m}",) for m in range(1, meshes + 1)]
    places = [(m, ref) for m, mesh in enumerate(by_mesh, start=1) for ref in mesh]
    if len(batch) < meshes:
        return Unsolved(
            f"The ladder wants {meshes} crystals and the batch has {len(batch)} good ones; measure more "
            "or take fewer poles."
        )
    from scipy.optimize import linear_sum_assignment

    table = mesh_frequencies(batch, wanted_ohm)
    candidates = np.unique(np.round(np.sort(table.mean(axis=1)), 3))
    best: tuple[float, NDArray[np.int64], NDArray[np.int64]] | None = None
    for centre in candidates:
        for _ in range(3):
            rows, columns = linear_sum_assignment((table - centre) ** 2)
            chosen = table[rows, columns]
            centre = float(chosen.mean())
        rms = float(chosen.std())
        if best is None or rms < best[0] - 1e-9:
            best = (rms, rows, columns)
    assert best is not None  # there is at least one candidate
    rms, rows, columns = best
    centre = float(table[rows, columns].mean())
    placed = sorted(
        (
            Placed(places[m][0], batch[int(c)].label, float(table[c, m] - centre), places[m][1])
            for c, m in zip(rows, columns, strict=True)
        ),
        key=lambda each: (each.mesh, each.ref),
    )
    order = np.argsort([each.fs_hz for each in batch])
    runs = [order[first : first + meshes] for first in range(len(batch) - meshes + 1)]
    closest = min(runs, key=lambda run: batch[run[-1]].fs_hz - batch[run[0]].fs_hz)
    simply = float(table[closest, np.arange(meshes)].std())
    generator = np.random.default_rng(1)
    draws = [generator.permutation(len(batch))[:meshes] for _ in range(200)]
    random = float(np.mean([table[draw, np.arange(meshes)].std() for draw in draws]))
    return Placement(tuple(placed), centre, rms, simply, random)
