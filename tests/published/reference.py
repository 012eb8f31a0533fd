"""The same circuits in scikit-rf: every part a two-port, cascaded, referred to the ends' resistances."""

import numpy as np
import skrf
from skrf.network import a2s, cascade_list, z2s

from core.circuits.ladder import Arm, Coupled, Network, Part, Transformer


def impedance(part: Part, f: np.ndarray) -> np.ndarray:
    """Impedance of a part by its own formula, written apart from the product's."""
    w = 2 * np.pi * f
    if part.kind == "resistor":
        return part.value + 0j * w
    if part.kind == "inductor":
        loss = 0 if part.q is None else w * part.value / part.q
        return loss + 1j * w * part.value
    if part.kind == "capacitor":
        loss = 0 if part.q is None else w * part.value / part.q
        return 1 / (loss + 1j * w * part.value)
    lm, fs = part.motional_inductance_h, part.value
    cm = 1 / ((2 * np.pi * fs) ** 2 * lm)
    rm = 0 if part.q is None else 2 * np.pi * fs * lm / part.q
    series = rm + 1j * w * lm + 1 / (1j * w * cm)
    return 1 / (1 / series + 1j * w * part.holder_capacitance_f)


def two_port(arm: Arm | Transformer | Coupled, f: np.ndarray) -> skrf.Network:
    """One arm as a two-port between 50 ohm, by its chain matrix."""
    chain = np.tile(np.eye(2, dtype=complex), (f.size, 1, 1))
    if isinstance(arm, Transformer):
        chain[:, 0, 0], chain[:, 1, 1] = arm.ratio, 1 / arm.ratio
    elif isinstance(arm, Coupled):
        near, far, coupling = arm.parts
        z = np.empty((f.size, 2, 2), dtype=complex)
        z[:, 0, 0], z[:, 1, 1] = impedance(near, f), impedance(far, f)
        z[:, 0, 1] = z[:, 1, 0] = 2j * np.pi * f * coupling.value * np.sqrt(near.value * far.value)
        return skrf.Network(f=f, f_unit="Hz", s=z2s(z, 50), z0=50)
    else:
        each = [impedance(part, f) for part in arm.parts]
        z = sum(each) if arm.joined == "in_series" else 1 / sum(1 / one for one in each)
        if arm.position == "series":
            chain[:, 0, 1] = z
        else:
            chain[:, 1, 0] = 1 / z
    return skrf.Network(f=f, f_unit="Hz", s=a2s(chain, 50), z0=50)


def scattering(network: Network, f: np.ndarray) -> np.ndarray:
    """S-matrix of shape (F, 2, 2) between the network's own source and load resistance.

    Through the chain matrix and not by `renormalize`, which adds a small constant to real impedances and
    is then off by some 1e-7.
    """
    whole = cascade_list([two_port(arm, f) for arm in network.arms])
    ends = np.tile(np.array([network.source_ohm, network.load_ohm], dtype=complex), (f.size, 1))
    return a2s(whole.a, ends)
