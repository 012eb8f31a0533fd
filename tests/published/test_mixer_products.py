"""Lines that leave mixers against closed forms, and against the same diodes solved sample by sample in time.

The ring and the pair of diodes are set up here a second time from their nodes, each diode as a junction and
its resistance, and solved at 8192 instants of two tones that fit into them a whole number of times.
"""

from math import log10, pi, sqrt

import numpy as np
import pytest

from core.circuits.circuit import THERMAL_V, Diode
from core.circuits.switching.diodes import RING, TWO_DIODES
from core.circuits.switching.products import HIGHEST, lines_of_array, lines_of_diodes
from core.circuits.switching.tail_pair import TailPair, shares_at, switched

OHM = (50.0, 50.0, 50.0)
#: A 1N5711 as simulators' libraries have it (from memory).
SCHOTTKY = Diode(saturation_a=315e-9, ideality=2.03, series_ohm=2.8)
#: Nearly a switch.
SHARP = Diode(saturation_a=1e-9, ideality=0.02, series_ohm=1e-3)
M, N = np.arange(HIGHEST + 1)[:, None], np.arange(HIGHEST + 1)


def emf(dbm):
    return sqrt(8 * 50 * 1e-3 * 10 ** (dbm / 10))


def below(lines, times=1.0):
    """Of lines for one signal, dB below the wanted one."""
    return -20 * np.log10(np.abs(times * lines[0] / lines[0][1, 1]) + 1e-30)


def test_switches_make_odd_multiples_as_a_square_wave_has_them():
    """1/m of a square wave; a signal far below the drive does not move its edges."""
    found = lines_of_diodes(RING, SHARP, emf(30.0), np.array([1e-3]), OHM)
    told = below(found.whole)
    for m in (3, 5, 7):
        assert told[m, 1] == pytest.approx(20 * log10(m), abs=0.3)
    # The wanted line is a square wave's fundamental: 2/pi of half the EMF.
    assert abs(found.whole[0, 1, 1]) == pytest.approx(1e-3 / 2 * 2 / pi, rel=2e-3)


@pytest.mark.parametrize("drive_dbm", [-3.0, 7.0, 13.0])
def test_what_balance_cancels(drive_dbm):
    """Of a ring both multiples are odd. Of two diodes the oscillator's is odd at the centre tap, and at the
    winding both are even or both odd (product rules of double- and single-balanced mixers).
    """
    signal = np.array([emf(drive_dbm - 8)])
    ring = below(lines_of_diodes(RING, SCHOTTKY, emf(drive_dbm), signal, OHM).whole)
    pair = below(lines_of_diodes(TWO_DIODES, SCHOTTKY, emf(drive_dbm), signal, OHM).whole)
    back = below(lines_of_diodes(TWO_DIODES, SCHOTTKY, emf(drive_dbm), signal, OHM, backwards=True).whole)
    some = (M + N) <= 5
    assert ring[some & ((M % 2 == 0) | (N % 2 == 0))].min() > 200
    assert ring[some & (M % 2 == 1) & (N % 2 == 1)].max() < 110
    assert pair[some & (M % 2 == 0)].min() > 200
    assert pair[some & (M % 2 == 1)].max() < 110
    assert back[some & ((M + N) % 2 == 1)].min() > 200
    assert back[some & ((M + N) % 2 == 0) & (M + N > 0)].max() < 110


# -- the same in time --------------------------------------------------------------------------------------

#: Whole periods of oscillator and signal among the instants: lines of up to 9 x 5 fall apart.
_INSTANTS, _DRIVE, _TONE = 8192, 131, 12
#: Each diode from a node to a node, as shares of the ports' voltages: of a ring A, C, B, D with A = lo,
#: B = −lo, C = tap + winding, D = tap − winding; of two diodes the oscillator to C, and D to the oscillator.
_NODES = {"A": (1, 0, 0), "B": (-1, 0, 0), "C": (0, 1, 1), "D": (0, -1, 1), "O": (1, 0, 0)}
_RING = (("A", "C"), ("C", "B"), ("B", "D"), ("D", "A"))
_PAIR = (("O", "C"), ("D", "O"))


def in_time(diodes, diode, drive_v, signal_v, *, enters=1, leaves=2, strays=None, second=0.0, nodes=_NODES):
    """Peak amplitudes of the lines with m to 9 and n to 5, by Newton's method on the junctions' voltages."""
    turn = 2 * np.pi * np.arange(_INSTANTS) / _INSTANTS
    lo = drive_v * (np.cos(_DRIVE * turn) + second * np.cos(2 * _DRIVE * turn))
    given = np.zeros((_INSTANTS, 3))
    given[:, 0], given[:, enters] = lo, signal_v * np.cos(_TONE * turn)
    across = np.array([np.subtract(nodes[a], nodes[b]) for a, b in diodes], dtype=float)
    shift = np.zeros(len(diodes)) if strays is None else np.asarray(strays)
    slope_v = diode.ideality * THERMAL_V
    junction = np.zeros((_INSTANTS, len(diodes)))
    for _ in range(400):
        grown = np.exp(np.minimum(junction / slope_v, 60.0))
        current = diode.saturation_a * (grown - 1)
        ports = given - 50.0 * current @ across
        missed = ports @ across.T + shift - diode.series_ohm * current - junction
        by_current = -50.0 * across @ across.T - diode.series_ohm * np.eye(len(diodes))
        steep = diode.saturation_a / slope_v * grown
        step = np.linalg.solve(by_current * steep[:, None, :] - np.eye(len(diodes)), -missed[..., None])[
            ..., 0
        ]
        junction = junction + np.clip(step, -0.1, 2 * slope_v)
        if np.abs(step).max() < 1e-12:
            break
    ports = given - 50.0 * diode.saturation_a * np.expm1(junction / slope_v) @ across
    spectrum = np.abs(np.fft.fft(ports[:, leaves])) / _INSTANTS * 2
    return np.array([[spectrum[m * _DRIVE + n * _TONE] for n in range(6)] for m in range(10)])


def test_lines_of_a_ring_are_those_of_the_circuit_in_time():
    found = lines_of_diodes(RING, SCHOTTKY, emf(7.0), np.array([emf(-3.0)]), OHM)
    told = in_time(_RING, SCHOTTKY, emf(7.0), emf(-3.0))
    for m, n in ((1, 1), (3, 1), (5, 1), (7, 1), (1, 3), (3, 3), (5, 3), (1, 5), (3, 5)):
        assert abs(found.whole[0, m, n]) == pytest.approx(told[m, n], rel=0.02)


@pytest.mark.parametrize(("enters", "leaves"), [(1, 2), (2, 1)])
def test_lines_of_two_diodes_are_those_of_the_circuit_in_time(enters, leaves):
    backwards = enters == 2
    found = lines_of_diodes(TWO_DIODES, SCHOTTKY, emf(7.0), np.array([emf(-6.0)]), OHM, backwards)
    told = in_time(_PAIR, SCHOTTKY, emf(7.0), emf(-6.0), enters=enters, leaves=leaves)
    lines = (
        [(2, 0), (1, 1), (3, 1), (2, 2), (1, 3)] if backwards else [(1, 0), (1, 1), (1, 2), (3, 1), (3, 2)]
    )
    for m, n in lines:
        assert abs(found.whole[0, m, n]) == pytest.approx(told[m, n], rel=0.02)


@pytest.mark.parametrize("number", range(4))
def test_one_diode_that_differs_lets_through_what_balance_cancels(number):
    """2 mV at one diode of a ring; for all four, alike but for signs, a volt at each counts twice as much."""
    strays = np.zeros(4)
    strays[number] = 2e-3
    told = in_time(_RING, SCHOTTKY, emf(7.0), emf(-3.0), strays=strays)
    found = lines_of_diodes(RING, SCHOTTKY, emf(7.0), np.array([emf(-3.0)]), OHM)
    for m, n in ((1, 0), (2, 0), (0, 1), (2, 1), (1, 2), (2, 2)):
        assert 2e-3 * found.per_volt[0, m, n] / 2 == pytest.approx(told[m, n], rel=0.03)


@pytest.mark.parametrize(
    ("winding", "cancelled"), [("A", [(1, 0), (3, 0), (1, 2)]), ("C", [(0, 1), (2, 1), (4, 1)])]
)
def test_a_winding_with_a_longer_half_does_so_too(winding, cancelled):
    """One per cent between the halves: half a per cent more in the one, as much less in the other."""
    more, less = {"A": ("A", "B"), "C": ("C", "D")}[winding]
    port = 0 if winding == "A" else 1
    nodes = {key: np.array(value, dtype=float) for key, value in _NODES.items()}
    nodes[more][port] *= 1.005
    nodes[less][port] *= 0.995
    told = in_time(_RING, SCHOTTKY, emf(7.0), emf(-3.0), nodes=nodes)
    found = lines_of_diodes(RING, SCHOTTKY, emf(7.0), np.array([emf(-3.0)]), OHM)
    for m, n in cancelled:
        assert 0.01 * found.uneven[0, m, n] == pytest.approx(told[m, n], rel=0.05)


def test_a_second_harmonic_of_the_drive_makes_even_multiples():
    """30 dB below the fundamental, in phase: what rings are told to suppress by some 30 to 40 dB."""
    share = 10 ** (-30 / 20)
    told = in_time(_RING, SCHOTTKY, emf(7.0), emf(-3.0), second=share)
    found = lines_of_diodes(RING, SCHOTTKY, emf(7.0), np.array([emf(-3.0)]), OHM)
    for m, n in ((0, 1), (2, 1), (4, 1)):
        assert share * found.second[0, m, n] == pytest.approx(told[m, n], rel=0.05)
    for m in (0, 2):
        assert 28 < 20 * log10(abs(found.whole[0, 1, 1]) / (share * found.second[0, m, 1])) < 40


def test_a_level_7_ring_is_as_tables_have_it():
    """Of a level-7 ring with the signal 10 dB below compression, from memory: 3 x 1 11 to 15 dB, 5 x 1 20 to
    30, 1 x 3 above 50, the oscillator 40 to 60 dB below the drive.
    """
    found = lines_of_diodes(RING, SCHOTTKY, emf(7.0), np.array([emf(-4.6)]), OHM)
    told = below(found.whole)
    assert 11 < told[3, 1] < 15
    assert 20 < told[5, 1] < 30
    assert told[1, 3] > 50
    leak = 10 * log10((found.per_volt[0, 1, 0] * 10e-3 / sqrt(2)) ** 2 / 100 / 1e-3)
    assert 40 < 7.0 - leak < 60


# -- a transistor array ------------------------------------------------------------------------------------

PAIR = TailPair(tail_a=1e-3, degeneration_ohm=47.0, inner_ohm=1500.0)


def test_an_arrays_share_fulfils_its_equation():
    volt = np.array([-3.0, -0.1, 0.0, 0.02, 0.2, 3.0])
    share, slope = shares_at(PAIR, volt)
    inside = np.abs(share) < 1 - 1e-12
    told = 2 * THERMAL_V * np.arctanh(share[inside]) + 0.047 * share[inside]
    assert told == pytest.approx(volt[inside], rel=1e-9, abs=1e-12)
    near = (shares_at(PAIR, volt + 1e-6)[0] - shares_at(PAIR, volt - 1e-6)[0]) / 2e-6
    assert slope == pytest.approx(near, rel=1e-4, abs=1e-6)
    # Without degeneration it is tanh(v/2VT) itself.
    bare, _ = shares_at(TailPair(tail_a=1e-3, degeneration_ohm=0.0, inner_ohm=1500.0), volt)
    assert bare == pytest.approx(np.tanh(volt / (2 * THERMAL_V)))


def test_an_array_with_a_small_signal_converts_as_its_conversion_tells():
    found = lines_of_array(PAIR, 0.2, np.array([1e-4]))
    # A quarter of the difference of currents goes through the matched load.
    power = found.whole[0, 1, 1] ** 2 * PAIR.inner_ohm / 32 / (1e-4**2 / (2 * PAIR.inner_ohm))
    assert power == pytest.approx(switched(PAIR, np.array([0.2])).gain[0], rel=1e-3)
    told = below(found.whole)
    assert told[2, 1] > 200
    assert told[1, 2] > 200
    # Hard switched it is a square wave.
    hard = below(lines_of_array(PAIR, 20.0, np.array([1e-4])).whole)
    assert [hard[m, 1] for m in (3, 5)] == pytest.approx([20 * log10(3), 20 * log10(5)], abs=0.1)


def test_an_arrays_lines_are_the_two_series_multiplied_and_an_offset_shifts_one():
    """Weak drive: tanh is its argument, so that the signal's series alone is left; and an offset d of the
    lower pair moves what leaves with the oscillator alone by d I/(2VT + I RE).
    """
    offset = 1e-3
    found = lines_of_array(PAIR, 1e-4, np.array([1e-3, 0.08]))
    slope = PAIR.slope_s / PAIR.tail_a
    drive = 1e-4 / (2 * THERMAL_V)
    alone = PAIR.tail_a * offset * slope * drive
    assert found.per_volt[0, 1, 0] * offset == pytest.approx(alone, rel=0.01)
    phase = np.linspace(0, np.pi, 4001)
    curve = shares_at(PAIR, 0.08 * np.cos(phase))[0]
    third = 2 / np.pi * np.trapezoid(curve * np.cos(3 * phase), phase)
    assert found.whole[1, 1, 3] == pytest.approx(PAIR.tail_a * drive * third / 2, rel=1e-3)


def test_lines_are_those_of_transient_simulation():
    """A ring of 1N5711 with 2 mV before one diode, EMFs of 1.415892 V at 1 MHz and 0.447744 V at 1.1 MHz
    behind 50 ohm, 20 µs by ngspice 39 (transformers as controlled sources, `reltol` 1e-6, 1 ns), by their
    Fourier integrals.
    """
    found = lines_of_diodes(RING, SCHOTTKY, 1.415892, np.array([0.447744]), OHM)
    assert abs(found.whole[0, 1, 1]) == pytest.approx(0.12870, rel=2e-3)
    assert abs(found.whole[0, 3, 1]) == pytest.approx(0.027375, rel=2e-3)
    simulated = {(2, 1): 3.8858e-5, (1, 0): 2.8668e-4, (0, 1): 5.2264e-5, (1, 2): 7.3791e-7}
    for (m, n), volt in simulated.items():
        assert 1e-3 * found.per_volt[0, m, n] == pytest.approx(volt, rel=0.01)
