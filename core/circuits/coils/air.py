"""A single layer in air: inductance, self-capacitance, loss."""

from math import log, pi, sqrt

from core.circuits.coils.wire import resistance_ohm_m

#: Permeability of vacuum, H/m.
MU0 = 4e-7 * pi


def current_sheet_h(turns: float, diameter_m: float, length_m: float) -> float:
    """Inductance [H] of a cylindrical current sheet, exact.

    L = (8/3) µ0 N² (r³/l²) [((2κ² − 1)/κ³) E + ((1 − κ²)/κ³) K − 1], κ² = 4 r²/(4 r² + l²); L. Lorenz 1879.
    """
    from scipy.special import ellipe, ellipk

    radius = diameter_m / 2
    m = 4 * radius**2 / (4 * radius**2 + length_m**2)
    cube = m * sqrt(m)
    shape = (2 * m - 1) / cube * float(ellipe(m)) + (1 - m) / cube * float(ellipk(m)) - 1
    return 8 / 3 * MU0 * turns**2 * radius**3 / length_m**2 * shape


def round_wire_h(turns: float, diameter_m: float, length_m: float, wire_m: float) -> float:
    """Inductance [H] of a coil of round wire: the current sheet less E. B. Rosa's correction.

    ΔL = µ0 N r (ks + km); ks = 3/2 − ln(2 p/d), with the pitch p = l/N, and km = ln 2π − 3/2 − ln(N)/6N −
    0.330842/N − 1/(120 N³) (Bulletin of the Bureau of Standards 4 (1907) 369, and its closed form; from
    memory). Rosa's 5/4 in place of 3/2 is for direct current; at radio frequencies it flows on the surface.
    `length_m` is N pitches.
    """
    pitch = length_m / turns
    ks = 1.5 - log(2 * pitch / wire_m)
    km = log(2 * pi) - 1.5 - log(turns) / (6 * turns) - 0.33084236 / turns - 1 / (120 * turns**3)
    return current_sheet_h(turns, diameter_m, length_m) - MU0 * turns * diameter_m / 2 * (ks + km)


def short_formula_h(turns: float, diameter_m: float, length_m: float) -> float:
    """H. A. Wheeler's formula for comparison [H]: r² N²/(9 r + 10 l) µH, inches (Proc. IRE 16 (1928) 1398).

    Within 0.6 % of the current sheet for coils longer than 0.4 of their diameter.
    """
    radius, length = diameter_m / 2 / 25.4e-3, length_m / 25.4e-3
    return 1e-6 * radius**2 * turns**2 / (9 * radius + 10 * length)


def self_capacitance_f(diameter_m: float, length_m: float) -> float:
    """Self-capacitance [F] of a single layer, one end near ground; an estimate, ±10 %.

    C = D (0.1126 l/D + 0.08 + 0.27/√(l/D)) pF, D in cm (R. G. Medhurst 1947, an approximation to his table;
    from memory).
    """
    slim = length_m / diameter_m
    return 1e-12 * 100 * diameter_m * (0.1126 * slim + 0.08 + 0.27 / sqrt(slim))


def quality(turns: float, diameter_m: float, length_m: float, wire_m: float, f_hz: float) -> float:
    """Q [-] of a single layer of copper at `f_hz` [Hz]; an estimate, ±20 %.

    The wire's resistance with skin effect, raised by what neighbouring turns do to it, 1 + 2.2 (d/p)² for
    coils about as long as wide (a fit to R. G. Medhurst's table of 1947; from memory).
    """
    close = wire_m * turns / length_m
    ohm = pi * diameter_m * turns * resistance_ohm_m(wire_m, f_hz) * (1 + 2.2 * min(close, 1.0) ** 2)
    return 2 * pi * f_hz * round_wire_h(turns, diameter_m, length_m, wire_m) / ohm
