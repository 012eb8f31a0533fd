"""Low-pass between power amplifier and antenna: shunt capacitors at both ends, coils between.

From the prototype's g values (Matthaei, Young, Jones 1964, section 4.05, from memory): series
L = g R/(2π fc), shunt C = g/(2π fc R). With a trap, the middle coil is tuned to the second harmonic by a
capacitor across it and the rest is fitted numerically to keep the pass-band as it was.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from math import pi, sqrt

import numpy as np

from core.circuits.fit import fit_losses
from core.circuits.ladder import Arm, Network, Part, solve, stresses
from core.circuits.prototypes import attenuation_db, prototype, three_db_edge
from core.circuits.response import crossing
from core.model.filters import LowPassFilter
from core.stages.outcome import FilterDesign, FilterFigures, PartRow, Unsolved
from core.trade.series import preferred

#: Cut-off over the highest dial frequency when none was asked for; common practice, no source.
USUAL_CUTOFF_RATIO = 1.05

Dials = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class PartStress:
    """What one part sees at full power: peak volts across, rms amperes through, watts lost in it."""

    ref: str
    peak_v: float
    rms_a: float
    loss_w: float


def cutoff_of(filter: LowPassFilter, dials: Dials) -> float | None:
    """Cut-off [Hz]: the one asked for, else a little above the highest dial frequency [Hz] it serves.

    Butterworth is counted to its −3 dB point, which lies a fifth higher to keep the band's loss low.
    """
    if filter.cutoff_hz is not None:
        return filter.cutoff_hz
    if not dials:
        return None
    ratio = USUAL_CUTOFF_RATIO * (1.2 if filter.shape == "butterworth" else 1.0)
    return ratio * max(high for _, high in dials)


def _lossless(filter: LowPassFilter, cutoff_hz: float, trap_hz: float | None) -> Network:
    shape = "butterworth" if filter.shape == "butterworth" else "chebyshev"
    g = prototype(shape, filter.order, filter.ripple_db).g  # type: ignore[arg-type]
    w, around = 2 * pi * cutoff_hz, filter.system_ohm
    # The coil nearest the middle; of two equally near, the one towards the power amplifier (the source).
    coils = range(1, filter.order, 2)
    trapped = min(coils, key=lambda n: (abs(n - (filter.order - 1) / 2), n))
    arms: list[Arm] = []
    for n, value in enumerate(g):
        number = n // 2 + 1
        if n % 2 == 0:
            arms.append(Arm("shunt", (Part(f"C{number}", "capacitor", value / (w * around)),)))
            continue
        inductance = value * around / w
        if trap_hz is None or n != trapped:
            arms.append(Arm("series", (Part(f"L{number}", "inductor", inductance),)))
        else:
            # The same reactance as the plain coil at cut-off, infinite at the trap.
            inductance *= 1 - (cutoff_hz / trap_hz) ** 2
            across = Part(f"CT{number}", "capacitor", 1 / ((2 * pi * trap_hz) ** 2 * inductance))
            arms.append(Arm("series", (Part(f"L{number}", "inductor", inductance), across), "in_parallel"))
    return Network(tuple(arms), around, around)


def trap_frequency(filter: LowPassFilter, dials: Dials) -> float | None:
    """Where the trap is tuned [Hz]: the second harmonic of the lowest band served, nearest to cut-off."""
    if filter.shape != "chebyshev_trap" or not dials:
        return None
    low, high = min(dials)
    return low + high


@lru_cache(maxsize=128)
def design(filter: LowPassFilter, dials: Dials) -> FilterDesign | Unsolved:
    """The low-pass on its resulting parts; `dials` are the (low, high) [Hz] of the bands it serves.

    References: C1.. shunt capacitors, L1.. coils, CT the trap's capacitor.
    """
    cutoff = cutoff_of(filter, dials)
    if cutoff is None:
        return Unsolved("A low-pass serves no band and has no cut-off; tick a band or give a cut-off.")
    if filter.order % 2 == 0:
        return Unsolved(f"A low-pass of order {filter.order} would end in a coil; choose an odd order.")
    trap = trap_frequency(filter, dials)
    if filter.shape == "chebyshev_trap" and (trap is None or trap <= 1.15 * cutoff):
        return Unsolved(
            "The low-pass's trap cannot lie on the second harmonic, which is too near the cut-off; lower the "
            "cut-off, serve fewer bands, or leave the trap out."
        )
    network = _lossless(filter, cutoff, trap)
    values = {p.ref: p.value for p in network.parts}
    if trap is not None:
        values = _fitted_with_trap(filter, network, values, cutoff)
    built = dict(filter.as_built)
    rows = []
    for part in network.parts:
        value = values[part.ref]
        if part.kind == "inductor":
            rows.append(PartRow(part.ref, "inductor", value, value, built.get(part.ref), "H"))
        else:
            note = f"trap on {trap / 1e6:.4g} MHz" if trap and part.ref.startswith("CT") else ""
            rounded = preferred(value, filter.capacitors)
            rows.append(PartRow(part.ref, "capacitor", value, rounded, built.get(part.ref), "F", note))
    if trap is not None:
        rows = _trap_retuned(rows, trap)
    fitted = {row.ref: row.fitted for row in rows}
    q = {"inductor": filter.coil_q, "capacitor": filter.capacitor_q}
    arms = tuple(
        replace(arm, parts=tuple(replace(p, value=fitted[p.ref], q=q[p.kind]) for p in arm.parts))
        for arm in network.arms
        if isinstance(arm, Arm)
    )
    rows.sort(key=lambda row: (row.kind, row.ref))
    final = Network(arms, filter.system_ohm, filter.system_ohm)
    return FilterDesign(final, tuple(rows), filter.system_ohm, (cutoff / 20, 4 * cutoff))


def _trap_retuned(rows: list[PartRow], trap_hz: float) -> list[PartRow]:
    """The trap's coil set so that it resonates with the rounded capacitor: turns are squeezed to tune it."""
    trap = next(row for row in rows if row.ref.startswith("CT"))
    coil = f"L{trap.ref[2:]}"
    inductance = 1 / ((2 * pi * trap_hz) ** 2 * trap.preferred)
    note = "squeeze or spread its turns to tune the trap"
    return [replace(row, preferred=inductance, note=note) if row.ref == coil else row for row in rows]


def _fitted_with_trap(
    filter: LowPassFilter, network: Network, start: dict[str, float], cutoff: float
) -> dict[str, float]:
    """Part values that give the plain Chebyshev's pass-band back; the trap keeps its frequency.

    The trap's coil and capacitor move oppositely, which one variable of `fit_losses` cannot say, so the
    trap stays as it is and its neighbours move.
    """
    omega = np.sin(np.linspace(0.15, pi / 2, 6 * filter.order))
    ideal = np.array([attenuation_db("chebyshev", filter.order, o, filter.ripple_db) for o in omega])
    edge = three_db_edge(filter.order, filter.ripple_db)
    trap = next(p.ref for p in network.parts if p.ref.startswith("CT"))
    fixed = {trap, f"L{trap[2:]}"}
    ties = tuple((ref,) for ref in start if ref not in fixed)
    f = cutoff * np.append(omega, edge)
    weights = np.append(np.full(omega.size, 1 / sqrt(filter.ripple_db)), 0.3)
    return {
        **start,
        **fit_losses(network, start, ties, f, np.append(ideal, 3.0103), weights, rounds=25).values,
    }


@lru_cache(maxsize=128)
def figures(filter: LowPassFilter, dials: Dials) -> FilterFigures | Unsolved:
    """Figures of the low-pass: widths count from zero, the loss is the largest on the bands it serves."""
    made = design(filter, dials)
    if isinstance(made, Unsolved):
        return made
    cutoff = cutoff_of(filter, dials)
    assert cutoff is not None  # design() refuses a filter without a cut-off
    network = made.network
    f = np.geomspace(cutoff / 20, 20 * cutoff, 801)
    loss = solve(network, f).loss_db
    least = float(loss.min())
    inside = loss[f <= cutoff]
    used = (
        np.concatenate([np.linspace(low, high, 21) for low, high in dials])
        if dials
        else f[f <= 0.95 * cutoff]
    )
    served = solve(network, used)
    worst = float(served.loss_db.max())

    def first_beyond(depth: float) -> float | None:
        beyond = np.flatnonzero((loss > least + depth) & (f > cutoff / 2))
        if beyond.size == 0:
            return None
        return crossing(network, float(f[beyond[0] - 1]), float(f[beyond[0]]), least + depth)

    return FilterFigures(
        None,
        first_beyond(3.0),
        first_beyond(6.0),
        first_beyond(60.0),
        float(inside.max() - inside.min()),
        worst,
        float(served.return_loss_db.min()),
    )


def part_stress(filter: LowPassFilter, dials: Dials, power_w: float, f_hz: float) -> tuple[PartStress, ...]:
    """Peak volts, rms amperes and lost watts of every part with `power_w` [W] offered at `f_hz` [Hz].

    The source's EMF amplitude is sqrt(8 P R). Loss by the parts' unloaded Q: I² ωL/Q in a coil,
    V² ωC/Q in a capacitor (rms values). Empty when the filter cannot be designed.
    """
    made = design(filter, dials)
    if isinstance(made, Unsolved):
        return ()
    emf = sqrt(8 * power_w * made.network.source_ohm)
    w = 2 * pi * f_hz
    parts = {p.ref: p for p in made.network.parts}
    rows = []
    for stress in stresses(made.network, np.array([f_hz])):
        volts, amperes = emf * float(stress.volts[0]), emf * float(stress.amperes[0]) / sqrt(2)
        for ref in stress.refs:
            part = parts[ref]
            reactance = w * part.value if part.kind == "inductor" else 1 / (w * part.value)
            # In an arm of several parts side by side, each carries what its own reactance draws.
            through = volts / sqrt(2) / reactance if len(stress.refs) > 1 else amperes
            loss = through**2 * reactance / (part.q or float("inf"))
            rows.append(PartStress(ref, volts, through, loss))
    return tuple(rows)
