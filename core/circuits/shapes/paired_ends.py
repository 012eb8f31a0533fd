"""Coupled resonators that are all alike, two of them in parallel at each end.

Two parallel resonators have half the reactance and half its slope. Where every inner mesh has two couplings k
to overcome and the end mesh one, the halved end mesh meets its one coupling at the very frequency where an
inner mesh meets its two: all meshes are tuned alike with nothing in series, and all couplings are equal.
Referred to a whole resonator the end coupling is √2 k, near what an equiripple response asks for (1.33 for 8
poles and 0.1 dB). One freedom is left, the end resistance. Derived here; that this form is in use, under the
name quasi-equiripple, is from memory of practice.

A coupling of its own at the ends would win little (8 poles: 0.27 dB instead of 0.32 dB of ripple) and cost a
series capacitor in all other meshes, so it is left out.
"""

from functools import lru_cache

import numpy as np

from core.circuits.ladder import Array

#: Fewest poles of the form: with fewer there is no inner pair of meshes to be alike.
LEAST_POLES = 4
#: The share of the −3 dB width over which the least ripple is looked for; beyond it the corners round off.
_SHARE = 0.9
_EDGE_DB = 3.0103


def loss_db(order: int, end_ohm: Array, x: Array) -> Array:
    """Loss in dB, shape (R, F), of `order` meshes with coupling 1 between resistances `end_ohm` (R,).

    `x` (F,) is the change of a whole resonator's reactance from the common tuning, over the coupling [-].
    From the last mesh towards the first, Z = j s x + 1/Z with s = 1 inside and 1/2 at the ends, where the
    resistance is added; the currents of neighbouring meshes have the ratio 1 : Z.
    """
    r = np.asarray(end_ohm)[:, np.newaxis]
    z = 0.5j * x + r
    product = np.abs(z)
    for mesh in range(order - 2, -1, -1):
        z = (1j * x if mesh else 0.5j * x + r) + 1 / z
        product = product * np.abs(z)
    return np.asarray(20 * np.log10(product / (2 * r)))


@lru_cache(maxsize=16)
def paired_ends(order: int) -> tuple[float, float, float]:
    """Coupling k [-], end quality factor q [-] and ripple [dB] of the least ripple for `order` meshes.

    k and q count as in `prototypes.couplings`: in units of half the −3 dB width and of one resonator, so the
    end resistance is that half width's reactance over q. Found on a grid of end resistances, refined twice.
    """
    x = np.linspace(0.0, 2.4, 481)
    low, high = 0.4, 1.4
    for points in (x, np.linspace(0.0, 2.4, 961), np.linspace(0.0, 2.4, 961)):
        r = np.linspace(low, high, 21)
        loss = loss_db(order, r, points)
        loss = loss - loss.min(axis=1, keepdims=True)
        last = points.size - 1 - (loss <= _EDGE_DB)[:, ::-1].argmax(axis=1)
        row = np.arange(r.size)
        step = points[1] * (_EDGE_DB - loss[row, last]) / (loss[row, last + 1] - loss[row, last])
        edge = points[last] + step
        ripple = np.where(points <= _SHARE * edge[:, np.newaxis], loss, 0.0).max(axis=1)
        best = int(np.argmin(ripple))
        low, high = r[max(best - 1, 0)], r[min(best + 1, r.size - 1)]
    return float(1 / edge[best]), float(edge[best] / r[best]), float(ripple[best])
