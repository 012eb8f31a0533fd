"""A winding on a core: how many turns fit, how long the wire is, flux, self-resonance, loss."""

from math import floor, pi, sqrt

from core.circuits.coils.wire import insulated_m, resistance_ohm_m

#: Speed of light, m/s.
LIGHT_M_S = 299792458.0
#: Part of the way round that a toroid's winding fills, its ends apart [-]; common practice, no source.
_FILLED = 0.92
#: What its neighbours make of the resistance of a wire [-]; common practice, no source.
_CROWDED = 1.6


def most_turns(inner_m: float, wire_m: float) -> int:
    """Turns of a wire of copper diameter `wire_m` [m] that lie side by side inside a toroid, ends apart.

    Their middles stand on a circle of the hole's diameter less the wire's.
    """
    over = insulated_m(wire_m)
    return max(floor(_FILLED * pi * (inner_m - over) / over), 0) if inner_m > over else 0


def filled(turns: int, inner_m: float, wire_m: float) -> float:
    """Share of the inner circumference that one layer takes [-]."""
    over = insulated_m(wire_m)
    return turns * over / (pi * (inner_m - over)) if inner_m > over else float("inf")


def wire_length_m(turns: int, outer_m: float, inner_m: float, height_m: float, wire_m: float) -> float:
    """Length of wire on a toroid [m]: once round its section a turn, a wire's breadth out at every corner."""
    return turns * (outer_m - inner_m + 2 * height_m + 4 * insulated_m(wire_m))


def flux_t(volt_rms: float, turns: int, area_m2: float, f_hz: float) -> float:
    """Peak flux density [T] of a sine of `volt_rms` [V] across `turns` on a section of
    `area_m2` [m²] at `f_hz` [Hz]: U = 4.44 f N A B.
    """
    return volt_rms * sqrt(2) / (2 * pi * f_hz * turns * area_m2)


def most_flux_t(f_hz: float) -> float:
    """Flux density [T] that keeps a small core of powdered iron or nickel-zinc ferrite cool; an estimate.

    15 mT at 1 MHz, 5.7 at 7, 4.2 at 14, 3.0 at 28 (a maker's application notes; from memory), which is
    15 mT · f^−0.49 with f in MHz; no more than 50 mT.
    """
    return min(15e-3 * (f_hz / 1e6) ** -0.49, 50e-3)


def self_resonance_hz(wire_length: float) -> float:
    """Self-resonance [Hz] of a winding: its wire a quarter of a wave long; an estimate within two to one."""
    return LIGHT_M_S / (4 * wire_length)


def quality(
    inductance_h: float,
    wire_length: float,
    wire_m: float,
    f_hz: float,
    best_q: float,
    range_hz: tuple[float, float],
) -> float:
    """Q [-] of a winding on a core at `f_hz` [Hz]; an estimate, ±30 %.

    1/Q = 1/Q of the wire + 1/Q of the core (`core_quality`). The wire has its resistance with skin effect,
    raised by its neighbours to 1.6 times.
    """
    wire_q = 2 * pi * f_hz * inductance_h / (_CROWDED * wire_length * resistance_ohm_m(wire_m, f_hz))
    return 1 / (1 / wire_q + 1 / core_quality(f_hz, best_q, range_hz))


def core_quality(f_hz: float, best_q: float, range_hz: tuple[float, float]) -> float:
    """Q [-] that a core alone allows at `f_hz` [Hz]; an estimate.

    `best_q` in the middle of its range and less outside: best_q (2/(x + 1/x))^0.7, with x the frequency over
    the middle (a curve drawn through makers' plots, from memory).
    """
    beside = f_hz / sqrt(range_hz[0] * range_hz[1])
    return best_q * (2 / (beside + 1 / beside)) ** 0.7
