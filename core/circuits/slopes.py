"""How a ladder network's transmission moves with each of its parts: every slope in two sweeps.

One sweep from the load gives voltage and current at each node; one from the source what either of them there
adds to what the source has to send. The product of the two is the slope of each arm (the adjoint network of
S. W. Director and R. A. Rohrer, IEEE Trans. CT-16 (1969) 318, here for a row of arms; citation from memory).
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.circuit import Part, Transformer
from core.circuits.ladder import Arm, ComplexArray, Coupled, Network, coupled_ohm, impedance

_Pair = tuple[ComplexArray, ComplexArray]


def log_slopes(network: Network, f_hz: ArrayLike, refs: Sequence[str]) -> ComplexArray:
    """Slopes of ln(1/S21) along the logarithm of each value in `refs`, shape (len(refs), F) [-].

    `f_hz` has shape (F,), all positive [Hz]. A reference is that of a part, or `X1.lm`, `X1.c0` and `X1.q` of
    a crystal, as in the overrides of `solve`; its own is its series resonance. The real part is how many
    nepers more are lost, the imaginary part how many radians the phase falls. Not finite where nothing
    passes, nor exactly at the resonance of a lossless trap.
    """
    s = np.asarray(2j * np.pi * np.asarray(f_hz, dtype=float))
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        return _slopes(network, s, refs)


def _slopes(network: Network, s: ComplexArray, refs: Sequence[str]) -> ComplexArray:
    known: dict[object, ComplexArray] = {}
    z_of = {part.ref: _kept(known, part, "", s) for part in network.parts if part.kind != "coupling"}
    z_arms = [_of_arm(arm, z_of) for arm in network.arms]
    v: ComplexArray = np.ones(s.shape, dtype=complex)
    i: ComplexArray = np.full(s.shape, 1 / network.load_ohm, dtype=complex)
    beyond: list[tuple[ComplexArray, ComplexArray]] = []
    for arm, z in zip(network.arms[::-1], z_arms[::-1], strict=True):
        beyond.append((v, i))
        if isinstance(arm, Transformer):
            v, i = v * arm.ratio, i / arm.ratio
        elif isinstance(arm, Coupled):
            (a, b), (c, d) = _chain(arm, s)
            v, i = a * v + b * i, c * v + d * i
        elif arm.position == "series":
            v = v + i * z
        else:
            i = i + v / z
    sent = v + network.source_ohm * i
    # What a volt and an ampere more at a node add to what is sent, as a share of it.
    per_v: ComplexArray = np.reciprocal(sent)
    per_i: ComplexArray = network.source_ohm * per_v
    places: dict[str, ComplexArray] = {}
    whole: dict[str, ComplexArray] = {}
    parts = {part.ref: part for part in network.parts}
    for arm, z, (v, i) in zip(network.arms, z_arms, beyond[::-1], strict=True):
        if isinstance(arm, Transformer):
            per_v, per_i = per_v * arm.ratio, per_i / arm.ratio
            continue
        if isinstance(arm, Coupled):
            whole |= _of_coupled(arm, s, (v, i), (per_v, per_i))
            (a, b), (c, d) = _chain(arm, s)
            per_v, per_i = per_v * a + per_i * c, per_v * b + per_i * d
            continue
        per_z = per_v * i if arm.position == "series" else -per_i * v / z**2
        for part in arm.parts:
            alone = len(arm.parts) == 1 or arm.joined == "in_series"
            places[part.ref] = per_z if alone else per_z * (z / z_of[part.ref]) ** 2
        if arm.position == "series":
            per_i = per_i + per_v * z
        else:
            per_v = per_v + per_i / z
    found: ComplexArray = np.empty((len(refs), s.size), dtype=complex)
    for row, name in enumerate(refs):
        ref, _, figure = name.partition(".")
        if name in whole:
            found[row] = whole[name]
            continue
        found[row] = places[ref] * _kept(known, parts[ref], figure or "own", s)
    return found


def _chain(arm: Coupled, s: ComplexArray) -> tuple[tuple[ComplexArray, ...], tuple[ComplexArray, ...]]:
    """Voltage and current before two coupled coils from those behind them [-, ohm, S, -]."""
    near, far, mutual = coupled_ohm(arm, s, {})
    return (near / mutual, near * far / mutual - mutual), (1 / mutual, far / mutual)


def _of_coupled(arm: Coupled, s: ComplexArray, behind: _Pair, per: _Pair) -> dict[str, ComplexArray]:
    """The slopes of both coils and of their coupling; what they share goes with the roots of both."""
    (a, _), (c, d) = _chain(arm, s)
    near, far, mutual = coupled_ohm(arm, s, {})
    (v, i), (per_v, per_i) = behind, per
    through = near * far / mutual
    one, other, coupling = (part.ref for part in arm.parts)

    def slope(of_a: float, of_through: float, of_mutual: float, of_c: float, of_d: float) -> ComplexArray:
        volts = of_a * a * v + (of_through * through - of_mutual * mutual) * i
        return per_v * volts + per_i * (of_c * c * v + of_d * d * i)

    return {
        one: slope(0.5, 0.5, 0.5, -0.5, -0.5),
        other: slope(-0.5, 0.5, 0.5, -0.5, 0.5),
        coupling: slope(-1.0, -1.0, 1.0, -1.0, -1.0),
    }


def _of_arm(arm: Arm | Transformer | Coupled, z_of: dict[str, ComplexArray]) -> ComplexArray:
    if not isinstance(arm, Arm):
        return np.empty(0, dtype=complex)
    z = z_of[arm.parts[0].ref]
    for part in arm.parts[1:]:
        other = z_of[part.ref]
        z = z + other if arm.joined == "in_series" else z * other / (z + other)
    return z


def _kept(known: dict[object, ComplexArray], part: Part, figure: str, s: ComplexArray) -> ComplexArray:
    """`_z_or_slope`, computed once for all parts that are alike."""
    alike = (part.kind, part.value, part.q, part.motional_inductance_h, part.holder_capacitance_f, figure)
    if alike not in known:
        known[alike] = _z_or_slope(part, figure, s)
    return known[alike]


def _z_or_slope(part: Part, figure: str, s: ComplexArray) -> ComplexArray:
    """The impedance of a part [ohm], or with a `figure` (`own`, or a crystal's other one) its slope along the
    logarithm of that.
    """
    numerator, denominator = impedance(part, s, {})
    z: ComplexArray = numerator if denominator is None else numerator / denominator
    if not figure:
        return z
    if part.kind != "crystal":
        return -z if part.kind == "capacitor" else z
    lm, ws = part.motional_inductance_h, 2 * np.pi * part.value
    w = s.imag
    if figure == "c0":
        return -s * part.holder_capacitance_f * z**2
    loss = 0.0 if part.q is None else ws * lm / part.q
    of_motional = {
        "own": loss - 2j * lm * ws**2 / w,
        "lm": numerator,
        "q": np.full_like(s, -loss),
    }[figure]
    return of_motional if denominator is None else of_motional / denominator**2
