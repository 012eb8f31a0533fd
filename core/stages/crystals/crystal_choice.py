"""Which N of M measured crystals go where in a ladder.

A mesh is off in two ways: its crystal resonates beside the common frequency, and its crystal loses. Both
are one complex number, the mesh's resonance f + j f/2Q, so an error in frequency and half the crystal's own
bandwidth count alike. How much the one should weigh against the other depends on the filter, so a few
weights are tried, the best assignment for each is found, and the exact response of the ladder made of each
decides: the choice that loses least in the worst place of the pass-band.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from core.circuits.ladder import Array, Network, solve
from core.model.values.part_names import reference
from core.record import record
from core.stages.crystals.crystals import CrystalParameters
from core.stages.outcome import Unsolved

#: Weights of a crystal's half width against its mesh's offset; 0 is the choice by frequency alone.
_WEIGHTS = (0.0, 0.01, 0.03, 0.1, 0.3, 1.0)
#: Common frequencies from which the assignment starts, at most; it re-centres by itself.
_MOST_CENTRES = 60
#: Frequencies over the pass-band, and beyond it for the width, at which a choice is judged.
_POINTS = 81
#: The part of the asked width in which the worst loss is taken: outside it, finite Q rounds every corner.
_INNER = 0.9
#: How far the whole filter may lie off at no cost, shares of the width: the carrier follows.
_FREE_SHIFTS = np.linspace(-0.08, 0.08, 5)

Choice = NDArray[np.int64]


@record
class Placed:
    """A crystal in a mesh (from 1): how far its mesh then lies from the wanted frequency, Hz.

    `ref` is the crystal's reference in the ladder, which tells two in parallel apart.
    """

    mesh: int
    label: str
    error_hz: float
    ref: str


@record
class ChoiceFigures:
    """What a choice makes of the ladder: how the choice was made, its least loss and its worst loss over the
    inner pass-band [dB], and its −3 dB width [Hz]; None where an edge lies outside the span looked at.
    """

    way: str
    loss_db: float
    worst_db: float
    width_hz: float | None


@record(kw_only=True)
class Placement:
    """The choice, the frequency all meshes come near [Hz], and the rms error against simpler ways [Hz].

    `figures` compares the responses, this choice first; empty where no ladder judged. `doubt` is a sentence
    where the choice makes little sense, else empty.
    """

    placed: tuple[Placed, ...]
    centre_hz: float
    rms_hz: float
    sorted_rms_hz: float
    random_rms_hz: float
    figures: tuple[ChoiceFigures, ...] = ()
    doubt: str = ""


@record
class Judge:
    """The ladder that a choice is for: its network, its pass-band [Hz], and the references of its crystals
    in the order of the places.
    """

    network: Network
    low_hz: float
    high_hz: float
    refs: tuple[str, ...]

    def losses(self, batch: Sequence[CrystalParameters], choices: Choice, f_hz: Array) -> Array:
        """Loss [dB] of the ladder with each of `choices` (K, places) at `f_hz` [Hz], shape (K, F) or (F,)."""
        table = {
            "": np.array([c.fs_hz for c in batch]),
            ".lm": np.array([c.lm_h for c in batch]),
            ".c0": np.array([c.c0_f for c in batch]),
        }
        q = np.array([np.inf if c.q is None else c.q for c in batch])
        if np.all(np.isfinite(q)):
            table[".q"] = q
        values = {
            ref + name: every[choices[:, [place]]]
            for place, ref in enumerate(self.refs)
            for name, every in table.items()
        }
        return solve(self.network, f_hz, values=values).loss_db

    def worst_db(self, batch: Sequence[CrystalParameters], choices: Choice, off_hz: Array) -> Array:
        """Largest loss over the inner pass-band of each choice, shape (K,), in dB.

        `off_hz` (K,) is how far each choice's meshes lie from where the design has them [Hz].
        """
        width = self.high_hz - self.low_hz
        middle = (self.low_hz + self.high_hz) / 2
        inner = middle + width * _INNER * np.linspace(-0.5, 0.5, _POINTS)
        f = (inner + off_hz[:, None, None] + width * _FREE_SHIFTS[:, None]).reshape(off_hz.size, -1)
        loss = self.losses(batch, choices, f).reshape(off_hz.size, _FREE_SHIFTS.size, _POINTS)
        return np.asarray(loss.max(axis=-1).min(axis=-1))

    def figures(
        self, batch: Sequence[CrystalParameters], choice: Choice, off_hz: float, way: str
    ) -> ChoiceFigures:
        """Losses and width of one choice (places,) whose meshes lie `off_hz` [Hz] beside the design."""
        width, middle = self.high_hz - self.low_hz, (self.low_hz + self.high_hz) / 2 + off_hz
        f = middle + width * np.linspace(-1.0, 1.0, 801)
        loss = self.losses(batch, choice[None, :], f)[0]
        worst = float(self.worst_db(batch, choice[None, :], np.array([off_hz]))[0])
        return ChoiceFigures(way, float(loss.min()), worst, _width_hz(f, loss, 3.0))


def _width_hz(f_hz: Array, loss_db: Array, depth_db: float) -> float | None:
    """Distance of the outermost points less than `depth_db` down, interpolated; None beyond the grid."""
    level = loss_db.min() + depth_db
    inside = np.flatnonzero(loss_db <= level)
    first, last = int(inside[0]), int(inside[-1])
    if first == 0 or last == f_hz.size - 1:
        return None
    low = np.interp(level, loss_db[[first, first - 1]], f_hz[[first, first - 1]])
    high = np.interp(level, loss_db[[last, last + 1]], f_hz[[last, last + 1]])
    return float(high - low)


def mesh_frequencies(batch: Sequence[CrystalParameters], wanted_ohm: Array) -> NDArray[np.float64]:
    """Where each mesh resonates with each crystal in it, shape (crystals, meshes), Hz.

    `wanted_ohm`, shape (meshes,), is the reactance that the mesh's capacitors leave for the crystal to have.
    Solves X(f) = wanted for the crystal's reactance with C0 across, above series resonance.
    """
    fs = np.array([[each.fs_hz] for each in batch])
    lm = np.array([[each.lm_h] for each in batch])
    c0 = np.array([[each.c0_f] for each in batch])
    w0 = 2 * np.pi * fs
    # X = Xm/(1 − w C0 Xm): the series arm must have Xm = X/(1 + w C0 X), with w as good as ws over a filter.
    motional = wanted_ohm / (1 + w0 * c0 * wanted_ohm)
    # Lm (w² − ws²)/w = Xm, the quadratic in w.
    w = motional / (2 * lm) + np.sqrt((motional / (2 * lm)) ** 2 + w0**2)
    return np.asarray(w / (2 * np.pi))


def _half_widths(batch: Sequence[CrystalParameters]) -> Array:
    """fs/2Q of each crystal, shape (crystals,), Hz; the median where it is not known, zero where none is."""
    known = [c.half_width_hz for c in batch if c.half_width_hz is not None]
    usual = float(np.median(known)) if known else 0.0
    return np.array([usual if c.half_width_hz is None else c.half_width_hz for c in batch])


def _assigned(table: Array, extra: Array) -> Choice:
    """The crystal of each place with the least sum of squared offsets from a common frequency, plus `extra`
    (crystals,) [Hz²] for each crystal that is used.

    scipy's assignment solver for every candidate of the common frequency; the best after re-centring.
    """
    from scipy.optimize import linear_sum_assignment

    best: tuple[float, Choice] | None = None
    places = np.arange(table.shape[1])
    centres = np.unique(np.round(table.mean(axis=1), 3))
    if centres.size > _MOST_CENTRES:
        centres = centres[np.linspace(0, centres.size - 1, _MOST_CENTRES).astype(int)]
    for centre in centres:
        for _ in range(3):
            crystals, columns = linear_sum_assignment((table - centre) ** 2 + extra[:, None])
            chosen = np.empty(places.size, dtype=np.int64)
            chosen[columns] = crystals
            centre = float(table[chosen, places].mean())
        cost = float(np.sum((table[chosen, places] - centre) ** 2 + extra[chosen]))
        if best is None or cost < best[0] - 1e-9:
            best = (cost, chosen)
    assert best is not None  # there is at least one candidate
    return best[1]


def place(
    batch: Sequence[CrystalParameters],
    wanted_ohm: Array,
    refs: Sequence[Sequence[str]] | None = None,
    judge: Judge | None = None,
) -> Placement | Unsolved:
    """Choose and place crystals for the best ladder.

    `wanted_ohm` has the reactance each crystal must bring, in the order of `refs`, the references of the
    crystals of each mesh (one a mesh when they are not given). Of two in parallel each is judged as if its
    mesh had two of it; the mesh lands in their middle. Without a `judge` only frequency counts.

    Compared with the choice by frequency alone, with as many crystals that lie closest together, put in by
    their frequency, and with the mean of random choices.
    """
    count = wanted_ohm.size
    by_mesh = refs or [(reference("ladder", "crystal", m),) for m in range(1, count + 1)]
    places = [(m, ref) for m, mesh in enumerate(by_mesh, start=1) for ref in mesh]
    if len(batch) < count:
        return Unsolved(
            f"The ladder wants {count} crystals and the batch has {len(batch)} good ones; measure more "
            "or take fewer poles."
        )
    table, columns = mesh_frequencies(batch, wanted_ohm), np.arange(count)
    half = _half_widths(batch)
    weights = _WEIGHTS if judge is not None and np.ptp(half) > 0 else (0.0,)
    assigned = [_assigned(table, weight * half**2) for weight in weights]
    order = np.argsort([each.fs_hz for each in batch])
    runs = [order[first : first + count] for first in range(len(batch) - count + 1)]
    closest = min(runs, key=lambda run: batch[run[-1]].fs_hz - batch[run[0]].fs_hz)

    def centre(choice: Choice) -> float:
        return float(table[choice, columns].mean())

    figures: tuple[ChoiceFigures, ...] = ()
    best = assigned[0]
    if judge is not None:
        nominal = _designed_centre_hz(judge, wanted_ohm)
        # The simplest choice stands for election too.
        choices = np.array([*assigned, closest])
        off = np.array([centre(choice) - nominal for choice in choices])
        best = choices[int(np.argmin(judge.worst_db(batch, choices, off)))]
        compared = [
            ("this choice", best),
            ("by frequency alone", assigned[0]),
            ("the closest, sorted", closest),
        ]
        figures = tuple(
            judge.figures(batch, choice, centre(choice) - nominal, way) for way, choice in compared
        )
    middle = centre(best)
    placed = tuple(
        Placed(mesh, batch[int(c)].label, float(table[c, place] - middle), ref)
        for place, ((mesh, ref), c) in enumerate(zip(places, best, strict=True))
    )
    generator = np.random.default_rng(1)
    draws = [generator.permutation(len(batch))[:count] for _ in range(200)]
    return Placement(
        placed=placed,
        centre_hz=middle,
        rms_hz=float(table[best, columns].std()),
        sorted_rms_hz=float(table[closest, columns].std()),
        random_rms_hz=float(np.mean([table[draw, columns].std() for draw in draws])),
        figures=figures,
    )


def _designed_centre_hz(judge: Judge, wanted_ohm: Array) -> float:
    """Where the designed ladder's own crystals put its meshes, Hz."""
    own = {part.ref: part for part in judge.network.parts if part.kind == "crystal"}
    crystals = [
        CrystalParameters(
            label=ref,
            fs_hz=own[ref].value,
            lm_h=own[ref].motional_inductance_h,
            c0_f=own[ref].holder_capacitance_f,
        )
        for ref in judge.refs
    ]
    return float(np.diagonal(mesh_frequencies(crystals, wanted_ohm)).mean())
