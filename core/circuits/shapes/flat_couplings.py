"""Couplings of resonators that have losses, found so that the losses no longer round the response.

Loss moves the poles of a filter to the left and rounds its corners; couplings can be chosen so that what
is left after that is the shape wanted, at the price of a larger loss in the middle (M. Dishal, Proc. IRE 37
(1949) 1050, predistortion; from memory). How much can be had is bounded: the loss grows without limit as
the resonators' dissipation comes near the real part of the poles nearest to the axis.

Here the couplings are fitted to the shape instead of synthesised from its poles: that keeps both ends
alike, and for an even number of resonators the filter a mirror image of itself. Derived here.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from core.circuits.fit import least_squares
from core.circuits.ladder import Array, ComplexArray
from core.circuits.shapes.prototypes import couplings, ripple_factor, three_db_edge
from core.record import record

#: With fewer resonators there is nothing to fit.
LEAST_FLAT = 3
#: Weight of a decibel in the pass-band, at its edge, and on the skirt.
_WEIGHTS = (10.0, 2.0, 0.3)
_ROUNDS = 30
#: No coupling moves by more than this factor in a round; larger steps end in other minima.
_LARGEST_STEP = 1.2
#: Where the fit begins, against the couplings without loss: the factors for the first and last coupling,
#: the others, the one in the middle and its neighbours, and the end quality factor. Found by trying a few
#: thousand starts; the fits then end in the solution with the least loss known.
_EVEN_START = {"ends": 1.21, "others": 1.06, "middle": 1.33, "beside": 0.84, "q": 0.74}
#: The same for an odd number, whose ladder is no mirror image: before the middle, behind it, and next.
_ODD_START = {"others": 1.06, "before": 0.74, "behind": 1.28, "next": 0.92, "q": 0.94}


@record
class FlatCouplings:
    """Couplings between resonators and end quality factor, as `prototypes.Couplings`, and how far each mesh
    is tuned above the middle, over half the bandwidth [-].
    """

    k: tuple[float, ...]
    q: float
    offsets: tuple[float, ...]


def transfer(k: Array, end: Array, own: ComplexArray) -> ComplexArray:
    """S21 of coupled resonators between equal ends, shape (rows, F).

    `k` are the couplings (rows, N − 1), `end` the end resistances (rows, 1) and `own` the impedances of the
    meshes by themselves (N, rows, F), all normalised as in `prototypes.couplings`, an impedance being loss
    plus j times the offset over half the bandwidth. Kirchhoff's law, mesh by mesh from the load.
    """
    after, here = np.zeros(own.shape[1:], dtype=complex), np.ones(own.shape[1:], dtype=complex)
    total = (own[-1] + end) * here
    for j in range(k.shape[1] - 1, -1, -1):
        after, here = here, 1j * total / k[:, [j]]
        total = own[j] * here + 1j * k[:, [j]] * after
    return np.asarray(2 * end / (total + end * here))


def largest_sum(k: Array, offsets: Array) -> Array:
    """The largest sum of a mesh's couplings and its offset, shape (rows,); all of shape (rows, ...)."""
    padded = np.pad(k, ((0, 0), (1, 1)))
    return np.asarray((padded[:, :-1] + padded[:, 1:] + offsets).max(axis=-1))


def _shape_db(shape: str, order: int, ripple_db: float, x: Array) -> Array:
    if shape == "butterworth":
        return np.asarray(10 * np.log10(1 + x ** (2 * order)))
    inside = np.cos(order * np.arccos(np.minimum(x, 1)))
    outside = np.cosh(order * np.arccosh(np.maximum(x, 1)))
    argument = np.where(x > 1, outside, inside)
    return np.asarray(10 * np.log10(1 + (ripple_factor(ripple_db) * argument) ** 2))


@lru_cache(maxsize=256)
def flat_couplings(
    shape: str, order: int, ripple_db: float, resistance: float, bend: float
) -> FlatCouplings | None:
    """Couplings with which `order` lossy resonators have the shape asked.

    `shape` is `butterworth` or `chebyshev` with `ripple_db` [dB]. `resistance` is the resonators' loss over
    half the change of their reactance across the pass-band [-]; it grows upwards as (1 + `bend` · (K + x))²,
    K being the largest sum of couplings and x the offset over half the bandwidth, as a crystal's does that
    has a capacitance across [-]. None for other shapes, whose couplings are alike by intent, and where two
    resonators leave nothing to fit.
    """
    if shape not in ("butterworth", "chebyshev") or order < LEAST_FLAT:
        return None
    plain = couplings(shape, order, ripple_db)  # type: ignore[arg-type]
    edge = 1.0 if shape == "butterworth" else three_db_edge(order, ripple_db)
    inner = 0.97 * edge * np.sin(np.linspace(-np.pi / 2, np.pi / 2, 5 * order))
    skirts = edge * np.array([-1.25, -1.1, -1.0, 1.0, 1.1, 1.25])
    x = np.concatenate([inner, skirts])
    wanted = _shape_db(shape, order, ripple_db, np.abs(x))
    passed, at_edge, skirt = _WEIGHTS
    weight = np.append(np.full(inner.size, passed), [skirt, skirt, at_edge, at_edge, skirt, skirt])
    start, q_factor, of_coupling, of_mesh = _start(order)
    k0, end0 = np.array(plain.k) * start, 1 / (plain.q_first * q_factor)
    coupled, tuned = int(of_coupling.max()) + 1, int(of_mesh.max()) + 1

    def values(moves: Array) -> tuple[Array, Array, Array]:
        k, end = k0 * np.exp(moves[:, of_coupling]), end0 * np.exp(moves[:, [coupled]])
        return k, end, moves[:, coupled + 1 + of_mesh]

    def misses(moves: Array) -> Array:
        k, end, offsets = values(moves)
        loss = resistance * (1 + bend * (largest_sum(k, offsets)[:, None] + x)) ** 2
        own = (loss + 1j * x)[np.newaxis] + 1j * offsets.T[:, :, np.newaxis]
        off = -20 * np.log10(np.abs(transfer(k, end, own))) - wanted
        # How much is lost on the whole is no matter of shape.
        return weight * (off - off[:, : inner.size].mean(axis=1, keepdims=True))

    found = least_squares(misses, coupled + 1 + tuned, _ROUNDS, _LARGEST_STEP)[np.newaxis]
    k, end, offsets = (each[0] for each in values(found))
    return FlatCouplings(tuple(map(float, k)), float(1 / end[0]), tuple(map(float, offsets)))


_Index = NDArray[np.int64]


def _start(order: int) -> tuple[Array, float, _Index, _Index]:
    """Factors on the plain couplings to begin with, that on the end q, the variables of couplings and meshes.

    Mirrored ones share a variable where the filter is a mirror image.
    """
    middle, count, meshes = order // 2, order - 1, np.arange(order)
    if order % 2 == 0:
        factors = np.full(count, _EVEN_START["others"])
        factors[[0, -1]] = _EVEN_START["ends"]
        for beside in (middle - 2, middle):
            factors[beside] *= _EVEN_START["beside"] / _EVEN_START["others"]
        factors[middle - 1] = _EVEN_START["middle"]
        couples = np.arange(count)
        return (
            factors,
            _EVEN_START["q"],
            np.minimum(couples, couples[::-1]),
            np.minimum(meshes, meshes[::-1]),
        )
    factors = np.full(count, _ODD_START["others"])
    factors[middle - 1], factors[middle] = _ODD_START["before"], _ODD_START["behind"]
    if middle + 1 < count:
        factors[middle + 1] = _ODD_START["next"]
    return factors, _ODD_START["q"], np.arange(count), meshes
