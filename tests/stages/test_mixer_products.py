"""What a mixer makes besides at the drive it gets: products, and the oscillator alone at its ports."""

from math import log10, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.circuits.switching.diodes import RING
from core.circuits.switching.products import HIGHEST, lines_of_diodes
from core.model.stages.mixers import Mixer
from core.stages.mixers import figures as mixer
from core.stages.mixers.drive import PORTS_OHM
from core.trade.diodes import diodes

TYPES = ["ring", "two_diode", "transistor_array"]
M, N = np.arange(HIGHEST + 1)[:, None], np.arange(1, HIGHEST + 1)


def made(**fields):
    return Mixer(**{"id": "m", "name": "M", "figures_from": "circuit", "diode": "1n5711", **fields})


def emf(dbm):
    return sqrt(8 * 50 * 1e-3 * 10 ** (dbm / 10))


def test_at_a_node_it_is_the_circuits_own():
    """Drive of +8 dBm behind half a decibel of transformer, a signal 12 dB below and one 3 dB weaker, both
    with the order's law taken out.
    """
    found = mixer.figures(made(), 8.0, -30.0)
    backoff = found.p1db_in_dbm - (8.0 - 12.0 + 0.5)
    told = lines_of_diodes(
        RING, diodes()["1n5711"].model, emf(7.5), np.array([emf(-4.0), emf(-7.0)]), PORTS_OHM
    )
    for m, n, cause, size in (
        (3, 1, told.whole, 1.0),
        (1, 3, told.whole, 1.0),
        (2, 1, told.second, 10 ** (-30 / 20)),
    ):
        relative = [size * cause[s, m, n] / told.whole[s, 1, 1] for s in (0, 1)]
        relative[1] *= 10 ** (3 * (n - 1) / 20)
        power = np.mean(np.square(relative))
        # What strays besides adds little to these.
        assert found.suppression_db(m, n, backoff) == pytest.approx(-10 * log10(power), abs=0.3)


def test_the_isolation_is_the_closed_form_of_a_rings_offset():
    """Diodes that differ by 10 mV are an offset of 10 mV/(2 sqrt 2) at the signal's port, and the oscillator
    turns it over as it does a signal: its fundamental is the offset times the root of the gain.
    """
    found = mixer.figures(made(diode="1n4148", transformer_loss_db=0.0, uneven_share=0.0), 10.0)
    amplitude = 10e-3 / (2 * sqrt(2)) * 10 ** (found.gain_db / 20)
    told = 10 * log10(amplitude**2 / 100 / 1e-3)
    assert 10.0 - found.oscillator_leak_db == pytest.approx(told, abs=0.1)
    # Two millivolts are 14 dB better, and a perfect one has next to none.
    matched = mixer.figures(made(diode="1n4148", matching="matched", uneven_share=0.0), 10.0)
    as_they_come = mixer.figures(made(diode="1n4148", uneven_share=0.0), 10.0)
    assert matched.oscillator_leak_db - as_they_come.oscillator_leak_db == pytest.approx(
        20 * log10(5), abs=0.01
    )
    assert mixer.figures(made(difference_v=0.0, uneven_share=0.0), 10.0).oscillator_leak_db > 150


@pytest.mark.parametrize("type", TYPES)
def test_more_drive_holds_the_signals_multiples_down(type):
    """Of a signal of one level; a transistor array's lower pair sees nothing of the drive."""
    levels = {}
    for drive in (-4.0, 4.0, 10.0):
        found = mixer.figures(made(type=type), drive)
        backoff = found.p1db_in_dbm + 25.0
        levels[drive] = found.suppression_db(1, 3, backoff)
    if type == "transistor_array":
        assert levels[10.0] == pytest.approx(levels[-4.0], abs=0.01)
    else:
        assert levels[10.0] > levels[4.0] + 3 > levels[-4.0] + 8


@pytest.mark.parametrize("type", TYPES)
def test_between_nodes_it_runs_without_a_step(type):
    drives = np.arange(3.0, 9.0, 0.05)
    found = [mixer.figures(made(type=type, p1db_in_dbm=3.0), float(each)) for each in drives]
    for m, n in ((2, 1), (3, 1), (1, 2), (1, 3)):
        told = np.array([float(each.suppression_db(m, n)) for each in found])
        assert np.abs(np.diff(told)).max() < 0.6
    weaker = np.arange(0.0, 40.0, 0.1)
    one = found[60]
    for n in (1, 2, 3):
        told = np.array([float(one.suppression_db(1, n, each)) for each in weaker])
        assert np.abs(np.diff(told)).max() < 1.1
    # Far below the drive a decibel less takes n − 1 decibels more off.
    assert one.suppression_db(3, 3, 60.0) - one.suppression_db(3, 3, 59.0) == pytest.approx(2.0, abs=1e-6)


def test_a_reading_of_the_isolation_moves_all_of_the_oscillator_but_in_the_if():
    computed, read = mixer.figures(made(), 7.0), mixer.figures(made(oscillator_leak_db=60.0), 7.0)
    shift = 60.0 - computed.oscillator_leak_db
    for port in ("antenna", "sent"):
        moved = computed.leak_dbm(7.0, [1, 2, 3], port) - read.leak_dbm(7.0, [1, 2, 3], port)
        assert moved == pytest.approx(np.full(3, shift))
    assert read.leak_dbm(7.0, 1, "if") == computed.leak_dbm(7.0, 1, "if")
    assert computed.leak_dbm(7.0, 1, "sent") == pytest.approx(7.0 - computed.oscillator_leak_db)


@pytest.mark.parametrize("type", TYPES)
def test_each_ports_leak_is_the_circuits_but_what_an_arrays_wiring_lets_through(type):
    found, times = mixer.figures(made(type=type), 7.0), np.array([1, 2, 3])
    for port in ("antenna", "sent", "if"):
        told = 7.0 - found.leak_dbm(7.0, times, port)
        own = found.products.alone_db(times, port)
        if type == "transistor_array" and port == "antenna":
            # A harmonic is so many times weaker, as typed-in figures are taken.
            assert told == pytest.approx(found.oscillator_leak_db + 20 * np.log10(times))
            assert np.abs(told - own).max() > 3
        elif type == "transistor_array" and port == "sent":
            # What its wiring lets through counts instead of what the pairs leave of the fundamental.
            assert told == pytest.approx(own + found.oscillator_leak_db - own[0])
        else:
            assert told == pytest.approx(own)
    back = -30.0 if type == "transistor_array" else found.gain_db
    assert found.reverse_db == back


def test_levels_that_leave_a_port_of_known_amplitudes():
    """0.1 V behind a transformer of half a decibel, and 1 mA of an array's collectors into 1500 ohm."""
    ring = mixer.figures(made(transformer_loss_db=0.5), 7.0).products
    assert ring._level_dbm(np.array(0.1), "if") == pytest.approx(-10.0)
    assert ring._level_dbm(np.array(0.1), "sent") == pytest.approx(-10.5)
    array = mixer.figures(made(type="transistor_array", inner_ohm=1500.0), 7.0).products
    # Half of it, which is half of what lies between the collectors, in the load: (I/4)² R/2.
    assert array._level_dbm(np.array(1e-3), "sent") == pytest.approx(10 * log10(0.25e-3**2 * 1500 / 2 / 1e-3))


def test_two_diodes_hold_the_oscillator_from_the_winding_only_and_its_second_harmonic_from_the_tap():
    found = mixer.figures(made(type="two_diode"), 7.0)
    sent, at_if = found.leak_dbm(7.0, [1, 2], "sent"), found.leak_dbm(7.0, [1, 2], "if")
    assert 7.0 - sent[0] > 30
    assert 7.0 - at_if[0] < 12
    assert 7.0 - sent[1] < 20
    assert at_if[1] < sent[1] - 15


def test_a_types_products_are_worse_by_what_its_drive_falls_short():
    plain = Mixer(id="m", name="M")
    driven, starved = mixer.figures(plain, 7.0), mixer.figures(plain, 2.0)
    assert starved.suppression_db(1, 1) == driven.suppression_db(1, 1)
    assert driven.suppression_db(1, 3) - starved.suppression_db(1, 3) == pytest.approx(10.0)
    assert mixer.figures(plain, 12.0).suppression_db(1, 3) == driven.suppression_db(1, 3)


def test_an_oscillators_second_harmonic_spoils_even_multiples():
    poor, good = (mixer.figures(made(), 7.0, dbc) for dbc in (-20.0, -50.0))
    assert good.suppression_db(2, 1) > poor.suppression_db(2, 1) + 20
    assert good.suppression_db(3, 1) == pytest.approx(float(poor.suppression_db(3, 1)), abs=0.1)


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from(TYPES),
    st.sampled_from(sorted(diodes())),
    st.floats(-60, 40),
    st.floats(-40, 120),
    st.floats(0, 0.3),
    st.floats(0, 0.3),
    st.booleans(),
)
def test_any_mixer_has_a_table_of_numbers(type, diode, drive, backoff, differ, uneven, sending):
    found = mixer.figures(made(type=type, diode=diode, difference_v=differ, uneven_share=uneven), drive)
    table = found.suppression_db(M, N, backoff, sending)
    assert np.isfinite(table).all()
    assert table[1, 0] == pytest.approx(0.0, abs=0.2 + 20 * (differ + uneven) ** 2 * 40)
    for port in ("antenna", "sent", "if"):
        assert np.isfinite(found.leak_dbm(drive, np.arange(1, 12), port)).all()
