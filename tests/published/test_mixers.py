"""Mixers against closed forms, and against transient simulation (ngspice 39) of the same diodes.

The simulator's decks: ideal transformers as controlled sources, oscillator at 1 MHz, tones at 1.1 MHz (and
1.11 MHz), the converted ones read by their Fourier integrals over whole periods.
"""

from math import log10, pi, sqrt

import numpy as np
import pytest
from scipy.special import wrightomega

from core.circuits.circuit import THERMAL_V, Diode
from core.circuits.switching.diodes import (
    RING,
    TWO_DIODES,
    _noise,
    compression_w,
    conversion,
    current_a,
    omega,
)
from core.circuits.switching.tail_pair import TailPair, intercept_w, switched
from core.circuits.switching.tail_pair import compression_w as pair_compression_w

OHM = (50.0, 50.0, 50.0)
#: A 1N4148 as simulators' libraries have it.
SILICON = Diode(saturation_a=2.52e-9, ideality=1.752, series_ohm=0.568)
#: Nearly a switch.
SHARP = Diode(saturation_a=1e-9, ideality=0.01, series_ohm=1e-3)


def emf(dbm):
    return np.array([sqrt(8 * 50 * 1e-3 * 10 ** (dbm / 10))])


def db(power):
    return 10 * np.log10(power)


def test_a_diodes_current_fulfils_its_equation():
    volt = np.array([-5.0, -0.1, 0.0, 0.3, 0.6, 0.9, 5.0, 60.0])
    current = current_a(SILICON, volt, 50.0)
    junction = volt - (50.0 + 0.568) * current
    law = SILICON.saturation_a * np.expm1(junction / (1.752 * THERMAL_V))
    assert current == pytest.approx(law, rel=1e-9, abs=1e-18)


def test_an_ideal_ring_loses_3_92_db_and_adds_as_much_noise():
    """20 lg(pi/2): a square wave's fundamental between equal resistances."""
    found = conversion(RING, SHARP, emf(30.0), OHM)
    told = 20 * log10(pi / 2)
    assert told == pytest.approx(3.92, abs=0.005)
    assert -db(found.gain) == pytest.approx(told, abs=0.005)
    assert db(found.noise_factor) == pytest.approx(told, abs=0.01)
    assert found.input_ohm == pytest.approx(50.0, rel=2e-3)
    assert found.output_ohm == pytest.approx(50.0, rel=2e-3)


@pytest.mark.parametrize(("board", "loop_ohm", "share"), [(RING, 100.0, 0.5), (TWO_DIODES, 150.0, 1.0)])
@pytest.mark.parametrize("series_ohm", [5.0, 20.0])
def test_switches_with_resistance_are_a_divider_times_2_over_pi(board, loop_ohm, share, series_ohm):
    """Signal and load in one loop with the diodes that conduct, two side by side in a ring; with two diodes
    the oscillator's own resistance is in it too: u/e = R/(loop + Rs) a half period each way round.
    """
    diode = Diode(saturation_a=1e-9, ideality=0.01, series_ohm=series_ohm)
    told = (4 / pi * 50 / (loop_ohm + share * series_ohm)) ** 2
    assert conversion(board, diode, emf(30.0), OHM).gain == pytest.approx(told, rel=2e-3)


@pytest.mark.parametrize(("board", "share", "oscillator_ohm"), [(RING, 0.5, 0.0), (TWO_DIODES, 1.0, 50.0)])
@pytest.mark.parametrize("series_ohm", [5.0, 20.0])
def test_resistance_of_switches_makes_noise_of_its_temperature(board, share, oscillator_ohm, series_ohm):
    """Every resistor of the loop by its temperature over the source's, and pi²/4 for the sidebands."""
    diode = Diode(saturation_a=1e-9, ideality=0.01, series_ohm=series_ohm)
    told = pi**2 / 4 * (1 + oscillator_ohm / 50 + share * series_ohm / 50 * 300.15 / 290)
    assert conversion(board, diode, emf(30.0), OHM).noise_factor == pytest.approx(told, rel=2e-3)


@pytest.mark.parametrize("series_ohm", [0.5, 5e5])
def test_a_diode_at_rest_makes_the_noise_of_its_conductance(series_ohm):
    """Nyquist: 4 k T Re Y at no current, which its two shot noises make of an ideality of one."""
    diode = Diode(saturation_a=1e-7, ideality=1.0, series_ohm=series_ohm)
    junction = 1e-7 / THERMAL_V
    whole = 1 / (1 / junction + series_ohm)
    found = _noise(diode, np.zeros(1), np.array([whole]))
    assert found == pytest.approx(4 * 1.380649e-23 * 300.15 * whole, rel=1e-9)


def test_a_diode_in_conduction_makes_half_the_noise_of_its_conductance():
    """2 q I against 4 k T I/VT: half, times its ideality."""
    volt = np.array([0.5])
    current = current_a(SILICON, volt)
    slope = current / (1.752 * THERMAL_V)
    bare = Diode(saturation_a=2.52e-9, ideality=1.752, series_ohm=1e-6)
    found = _noise(bare, current_a(bare, volt), current_a(bare, volt) / bare.slope_v)
    assert found == pytest.approx(4 * 1.380649e-23 * 300.15 * slope * 1.752 / 2, rel=2e-2)


@pytest.mark.parametrize(("board", "gain_db"), [(RING, -5.08235), (TWO_DIODES, -9.03563)])
def test_loss_at_7_dbm(board, gain_db):
    """A tone of −30 dBm in the simulator."""
    assert db(conversion(board, SILICON, emf(7.0), OHM).gain) == pytest.approx(gain_db, abs=0.002)


@pytest.mark.parametrize(
    ("board", "levels_dbm", "gains_db"),
    [
        (RING, (4.0, 7.0), (-5.19126, -6.06344)),
        (TWO_DIODES, (0.0, 4.0), (-9.40251, -10.12227)),
    ],
)
def test_compression_at_7_dbm_of_drive(board, levels_dbm, gains_db):
    small = db(conversion(board, SILICON, emf(7.0), OHM).gain)[0]
    lost = small - np.array(gains_db)
    slope = (levels_dbm[1] - levels_dbm[0]) / (lost[1] - lost[0])
    told = levels_dbm[1] + slope * (1 - lost[1])
    got = db(compression_w(board, SILICON, float(emf(7.0)[0]), OHM) / 1e-3)
    # The line through two levels cuts the curve's corner.
    assert got == pytest.approx(told, abs=0.25)


@pytest.mark.parametrize(
    ("board", "told_dbm", "abs_db"),
    [
        # Two tones of −25 and −20 dBm give 14.597 and 15.197 dBm; the rest is proportional to their power.
        (RING, 14.597 - (15.197 - 14.597) / (10**0.5 - 1), 0.1),
        # Two tones of −10 dBm.
        (TWO_DIODES, 13.913, 0.25),
    ],
)
def test_third_order_at_7_dbm(board, told_dbm, abs_db):
    got = db(conversion(board, SILICON, emf(7.0), OHM).intercept_w / 1e-3)
    assert got == pytest.approx(told_dbm, abs=abs_db)


@pytest.mark.parametrize(
    ("board", "count", "of_diode_v", "of_winding_v"),
    [(RING, 4, 0.27861380e-3, 0.0), (TWO_DIODES, 2, 0.35353073e-3, 0.40650828e-3)],
)
def test_carrier_of_devices_and_windings_that_differ(board, count, of_diode_v, of_winding_v):
    """At the winding's port with +7 dBm: one diode's saturation current less by 2 mV of forward voltage, and
    halves of the winding that differ by 1 %. With a ring's centre tap for the audio the latter cancels.
    """
    found = conversion(board, SILICON, emf(7.0), OHM)
    assert 2e-3 * found.carrier_per_volt / sqrt(count) == pytest.approx(of_diode_v, rel=2e-3)
    assert 0.01 * found.carrier_uneven_v == pytest.approx(of_winding_v, rel=2e-3, abs=1e-12)


def test_a_decibel_of_drive_buys_a_decibel_of_intercept():
    """What is said of switched mixers: their intercept follows the drive (common practice)."""
    drive = np.sqrt(8 * 50 * 1e-3 * 10 ** (np.array([10.0, 13.0, 16.0]) / 10))
    steps = np.diff(db(conversion(RING, SILICON, drive, OHM).intercept_w))
    assert steps == pytest.approx(3.0, abs=0.3)


def test_level_7_rings_are_as_surveys_have_them():
    """Loss of real rings 4.5 to 9 dB (general survey), 5 to 7 dB at HF with their transformers, intercept +13
    to +15 dBm, compression about +1 dBm (from memory).
    """
    schottky = Diode(saturation_a=22e-9, ideality=1.08, series_ohm=6.0)
    found = conversion(RING, schottky, emf(7.0), OHM)
    assert 4.3 < -db(found.gain)[0] < 6.0
    assert 13 < db(found.intercept_w / 1e-3)[0] < 18
    assert db(compression_w(RING, schottky, float(emf(7.0)[0]), OHM) / 1e-3) == pytest.approx(1, abs=2)


def test_a_pairs_conversion_is_2_over_pi_of_its_slope_when_switched_hard():
    pair = TailPair(tail_a=1e-3, degeneration_ohm=0.0, inner_ohm=1500.0)
    slope = 1e-3 / (2 * THERMAL_V)
    hard, soft = 10.0, 1e-3
    found = switched(pair, np.array([hard, soft]))
    # Half of the EMF at the matched bases; of the difference of currents half goes round, and half of that
    # into the matched load.
    told = np.array([2 / pi, soft / (4 * THERMAL_V)]) * slope * 1500 / 4
    assert np.sqrt(found.gain) == pytest.approx(told, rel=2e-3)


def test_a_pairs_noise_is_the_sum_of_its_sources():
    """1 mA, 47 ohm at each emitter, 1.5 kohm inside, hand calculation. Switched hard, in 1e-18 V²/Hz between
    the bases: source 6.005, resistor 6.216, base resistances 1.658, emitter resistors 1.558, the pair by shot
    noise 0.857, base currents 0.451, resistor at the collectors 0.432; each sideband takes its part.
    """
    pair = TailPair(tail_a=1e-3, degeneration_ohm=47.0, inner_ohm=1500.0)
    sources = 6.005 + 6.216 + 1.658 + 1.558 + 0.857 + 0.451 + 0.432
    hard, soft = switched(pair, np.array([40.0, 1e-3])).noise_factor
    assert hard == pytest.approx(pi**2 / 4 * sources / 6.005, rel=3e-3)
    # Hardly driven all four conduct: their shot noise 3.123 and the resistor's 0.432 stand against a
    # fundamental of V/4VT.
    assert soft == pytest.approx((3.123 + 0.432) / 6.005 * (4 * THERMAL_V / 1e-3) ** 2, rel=3e-3)


def test_a_pairs_intercept_is_four_thermal_voltages():
    """tanh x = x − x³/3: amplitude 2 · 2 VT (hand calculation), 103.5 mV at 27 °C."""
    bare = TailPair(tail_a=1e-3, degeneration_ohm=0.0, inner_ohm=1500.0)
    assert sqrt(2 * 1500 * intercept_w(bare)) == pytest.approx(4 * THERMAL_V)
    # Degeneration of the whole spread doubles it: 2³ in power.
    twice = TailPair(tail_a=1e-3, degeneration_ohm=2 * THERMAL_V / 1e-3, inner_ohm=1500.0)
    assert intercept_w(twice) == pytest.approx(8 * intercept_w(bare))


@pytest.mark.parametrize("degeneration_ohm", [0.0, 47.0, 220.0])
def test_a_pairs_compression_is_its_curves_own(degeneration_ohm):
    """Fundamental of the transfer curve by quadrature and root finding, apart from the program's table."""
    from scipy.integrate import quad
    from scipy.optimize import brentq

    pair = TailPair(tail_a=1e-3, degeneration_ohm=degeneration_ohm, inner_ohm=1500.0)
    spread = 2 * THERMAL_V + 1e-3 * degeneration_ohm

    def share(volt):
        return brentq(
            lambda y: 2 * THERMAL_V * np.arctanh(y) + 1e-3 * degeneration_ohm * y - volt,
            -1 + 1e-15,
            1 - 1e-15,
        )

    amplitude = sqrt(2 * 1500 * pair_compression_w(pair))
    fundamental = 2 / pi * quad(lambda t: share(amplitude * np.cos(t)) * np.cos(t), 0, pi)[0]
    assert 20 * log10(amplitude / spread / fundamental) == pytest.approx(1.0, abs=0.02)


def test_the_diodes_law_is_inverted_as_scipy_does():
    x = np.concatenate([np.linspace(-745.0, 800.0, 20001), np.linspace(-45.0, 10.0, 20001), [-1e5, 0.0, 1e9]])
    with np.errstate(over="raise", invalid="raise", divide="raise"):
        found = omega(x)
    np.testing.assert_allclose(found, wrightomega(x), rtol=1e-14, atol=1e-320)
    assert omega(np.array([[1.0]])).shape == (1, 1)
