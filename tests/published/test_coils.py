"""Coils against published values and against computations of their own."""

from math import asinh, cos, hypot, log, pi, sin, sqrt

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import jve

from core.circuits.coils import air, cored, wire
from core.stages.coils.winding import choose, in_air, on_core
from core.trade.cores import cores

#: Nagaoka's coefficient by diameter over length: H. Nagaoka, J. Coll. Sci. Tokyo 27 (1909), as recomputed.
NAGAOKA = {
    0.10: 0.958807, 0.20: 0.920093, 0.50: 0.818136, 1.00: 0.688423, 1.50: 0.595046,
    2.00: 0.525510, 3.00: 0.429199, 5.00: 0.319825, 8.00: 0.236582, 10.0: 0.203324,
}  # fmt: skip


@pytest.mark.parametrize("slim", NAGAOKA)
def test_the_current_sheet_is_nagaokas(slim):
    diameter, length, turns = 0.02, 0.02 / slim, 17
    plain = air.MU0 * turns**2 * pi * (diameter / 2) ** 2 / length
    assert air.current_sheet_h(turns, diameter, length) / plain == pytest.approx(NAGAOKA[slim], abs=1e-6)


@pytest.mark.parametrize("slim", [0.1, 0.7, 1.0, 3.0, 20.0])
def test_the_current_sheet_is_the_mutual_inductance_of_its_own_rings(slim):
    """F. Neumann's integral over two rings, averaged over the sheet: no elliptic function in it."""
    radius, length = 0.01, 0.02 / slim

    def angle(phi):
        # Two rings z apart, averaged with weight 2 (l - z)/l^2 in closed form.
        across = 2 * radius * sin(phi / 2)
        over_z = length * asinh(length / across) - (hypot(across, length) - across)
        return cos(phi) * 2 * over_z / length**2

    value, _ = quad(angle, 0, pi, limit=200)
    sheet = air.MU0 * radius**2 * value
    assert air.current_sheet_h(1, 2 * radius, length) == pytest.approx(sheet, rel=1e-7)


@pytest.mark.parametrize(
    ("turns", "diameter_mm", "length_mm", "exact_uh", "short_uh"),
    [
        (10, 25.4, 25.4, 1.72579, 1.72414),
        (20, 12.7, 25.4, 2.05097, 2.04082),
        (15, 20, 20, 3.05751, 3.05458),
        (8, 8, 10, 0.29716, 0.29643),
    ],
)
def test_worked_coils(turns, diameter_mm, length_mm, exact_uh, short_uh):
    """Exact and short formula (H. A. Wheeler, Proc. IRE 16 (1928) 1398), computed independently."""
    size = diameter_mm / 1e3, length_mm / 1e3
    assert 1e6 * air.current_sheet_h(turns, *size) == pytest.approx(exact_uh, abs=6e-6)
    assert 1e6 * air.short_formula_h(turns, *size) == pytest.approx(short_uh, abs=6e-6)


def test_round_wire_against_the_sum_of_its_rings():
    """Self- and mutual inductance of every pair of rings (J. C. Maxwell): what Rosa's correction does."""
    from scipy.special import ellipe, ellipk

    turns, radius, pitch, thick = 12, 0.01, 1.5e-3, 0.8e-3

    def mutual(z):
        m = 4 * radius**2 / (4 * radius**2 + z**2)
        return air.MU0 * radius * ((2 - m) * ellipk(m) - 2 * ellipe(m)) / sqrt(m)

    # A ring at radio frequency carries its current on its surface: ln(8 r/a) - 2.
    own = air.MU0 * radius * (log(8 * radius / (thick / 2)) - 2)
    total = turns * own + 2 * sum((turns - n) * mutual(n * pitch) for n in range(1, turns))
    assert air.round_wire_h(turns, 2 * radius, turns * pitch, thick) == pytest.approx(total, rel=1e-3)


#: ASTM B258 and the resistivity of IEC 60028: diameter [mm] and resistance [mohm/m] by gauge.
AWG = {14: (1.6277, 8.285), 18: (1.0237, 20.95), 24: (0.5106, 84.21), 30: (0.2546, 338.5), 36: (0.1270, 1361)}


@pytest.mark.parametrize("gauge", AWG)
def test_wire_gauges(gauge):
    millimetres, milliohms = AWG[gauge]
    assert 1e3 * wire.awg_m(gauge) == pytest.approx(millimetres, abs=6e-5)
    assert 1e3 * wire.resistance_ohm_m(wire.awg_m(gauge)) == pytest.approx(milliohms, rel=5e-4)


@pytest.mark.parametrize(("mhz", "um"), [(1, 66.08), (3.6, 34.83), (7.1, 24.80), (14.2, 17.54), (30, 12.07)])
def test_skin_depth_of_copper(mhz, um):
    assert 1e6 * wire.skin_depth_m(mhz * 1e6) == pytest.approx(um, abs=0.006)


def test_skin_effect_has_its_limits():
    """Thin against the skin depth a wire has its direct resistance, thick a layer one depth deep."""
    # Scaled Bessel functions of a library, whose scale is the same in both.
    for wire_m in (0.1e-3, 0.5e-3, 2e-3):
        for f_hz in (1e3, 1e6, 30e6, 1e9):
            wave = (1 - 1j) / wire.skin_depth_m(f_hz)
            ratio = complex(jve(0, wave * wire_m / 2)) / complex(jve(1, wave * wire_m / 2))
            told = (wave * wire.COPPER_OHM_M / (pi * wire_m) * ratio).real
            assert wire.resistance_ohm_m(wire_m, f_hz) == pytest.approx(told, rel=1e-12)
    thin = wire.resistance_ohm_m(20e-6, 1e6)
    assert thin == pytest.approx(wire.resistance_ohm_m(20e-6), rel=1e-3)
    depth = wire.skin_depth_m(30e6)
    layer = wire.COPPER_OHM_M / (pi * depth * (2e-3 - depth))
    assert wire.resistance_ohm_m(2e-3, 30e6) == pytest.approx(layer, rel=1e-3)


def test_the_makers_example():
    """12 uH on T50-2: N = 100 sqrt(12/49) = 49.5 (a maker's table, read in three copies)."""
    assert cores()["T50-2"].al_h == pytest.approx(49e-6 / 100**2)
    wound = on_core(cores()["T50-2"], 12e-6, 3.6e6)
    assert wound.turns in (49, 50)
    assert wound.inductance_h == pytest.approx(4.9e-9 * wound.turns**2)


@pytest.mark.parametrize("name", [name for name, core in cores().items() if core.shape == "toroid"])
def test_tables_agree_with_themselves(name):
    """A_L is permeability, section and path together; the tables' three columns agree within a quarter."""
    core = cores()[name]
    path = pi * (core.outer_m + core.inner_m) / 2
    from_size = air.MU0 * core.of.permeability * core.area_m2 / path
    assert 0.8 < core.al_h / from_size < 1.25


def test_flux_by_definition():
    """U = N A dB/dt: a volt of peak for a quarter period a turn, found by integrating."""
    area, turns, hz, volt = 12e-6, 20, 7e6, 16.0
    swing, _ = quad(lambda t: sqrt(2) * volt * np.cos(2 * pi * hz * t) / (turns * area), 0, 1 / (4 * hz))
    assert cored.flux_t(volt, turns, area, hz) == pytest.approx(swing, rel=1e-6)


@pytest.mark.parametrize(("mhz", "gauss"), [(1, 150), (7, 57), (14, 42), (21, 36), (28, 30)])
def test_flux_limits_of_small_cores(mhz, gauss):
    """A maker's application notes on powdered iron, from memory."""
    assert 1e4 * cored.most_flux_t(mhz * 1e6) == pytest.approx(gauss, rel=0.07)


@pytest.mark.parametrize(
    ("core", "microhenry", "mhz", "q"),
    [
        ("T50-6", 1.6, 7.1, 200),
        ("T50-2", 1.6, 7.1, 220),
        ("T68-2", 6.0, 5.25, 240),
        ("T37-6", 0.68, 14.0, 180),
    ],
)
def test_estimated_q_is_what_builders_measure(core, microhenry, mhz, q):
    """Common practice, from memory: within the 30 % that the estimate claims."""
    wound = on_core(cores()[core], 1e-6 * microhenry, 1e6 * mhz)
    assert wound.quality == pytest.approx(q, rel=0.3)


def test_a_coil_in_air_of_the_trade():
    """Ten turns on half an inch, half an inch long: some 0.7 uH and a Q above 200 at 14 MHz (from memory)."""
    wound = in_air(0.72e-6, 14e6, diameter_m=12.7e-3, length_m=12.7e-3, turns=10, wire_m=0.63e-3)
    assert wound.inductance_h == pytest.approx(0.86e-6, rel=0.2)
    assert 150 < wound.quality < 350


def test_the_core_for_a_band_is_the_one_that_builders_take():
    """Common practice, no source: red cores (2) from 3 to some 10 MHz, yellow (6) from some 10 MHz up."""
    assert choose(6e-6, 7.1e6)[0].core.mix == "iron_2"
    assert {each.core.mix for each in choose(0.35e-6, 28e6)[:3]} <= {"iron_6", "iron_10", "iron_17"}
