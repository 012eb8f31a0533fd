"""Mixers from their circuits: figures at a drive, the drive they want, what a reading replaces, balance."""

from math import log10

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.circuits.switching.diodes import compression_w
from core.circuits.units import dbm
from core.model.stages.mixers import Mixer
from core.stages.mixers import figures as mixer
from core.stages.mixers.drive import (
    BOARDS,
    PORTS_OHM,
    AtDrive,
    Balance,
    at_drive,
    balance,
    diode_of,
    emf_v,
    over_drive,
)
from core.trade.diodes import diodes


def made(**fields):
    return Mixer(**{"id": "m", "name": "M", "figures_from": "circuit", **fields})


def test_a_type_alone_counts_as_before():
    """Typical figures of the table whatever the drive; the drive wanted may be missed by 3 dB."""
    plain = Mixer(id="m", name="M")
    for drive in (None, -20.0, 7.0):
        found = mixer.figures(plain, drive)
        assert (found.gain_db, found.noise_figure_db, found.iip3_dbm, found.drive_dbm) == (
            -6.0,
            6.5,
            13.0,
            7.0,
        )
        assert found.drive_range_dbm == (4.0, 10.0)
        assert found.circuit is None
        assert (found.input_ohm, found.output_ohm) == (50.0, 50.0)


def test_schottky_diodes_want_less_drive_than_silicon():
    silicon, schottky = over_drive(made()), over_drive(made(diode="hsms_2822"))
    # As builders have it: some +7 to +10 dBm for 1N4148, a few dBm less for Schottky diodes.
    assert 7 < silicon.least_dbm < 10
    assert silicon.least_dbm - schottky.least_dbm > 4
    assert silicon.gain_db[-1] - np.interp(silicon.least_dbm, silicon.drive_dbm, silicon.gain_db) == (
        pytest.approx(1.0, abs=0.01)
    )


@pytest.mark.parametrize("type", ["ring", "two_diode", "transistor_array"])
def test_a_starved_mixer_loses_and_a_driven_one_does_not(type):
    over = over_drive(made(type=type))
    assert over.least_dbm < over.wanted_dbm <= over.most_dbm
    starved, driven = (
        mixer.figures(made(type=type), level) for level in (over.least_dbm - 6, over.wanted_dbm)
    )
    assert starved.gain_db < driven.gain_db - 1
    assert starved.noise_figure_db > driven.noise_figure_db
    assert np.all(np.diff(over.gain_db) > 0)


@pytest.mark.parametrize("type", ["ring", "two_diode", "transistor_array"])
def test_the_curve_is_its_figures_point_by_point(type):
    over = over_drive(made(type=type))
    for place in (25, 30, 35):
        one = at_drive(made(type=type), float(over.drive_dbm[place]))
        assert over.gain_db[place] == pytest.approx(one.gain_db, abs=1e-9)
        assert over.noise_figure_db[place] == pytest.approx(one.noise_figure_db, abs=1e-9)
        assert over.iip3_dbm[place] == pytest.approx(one.iip3_dbm, abs=1e-6)


def test_a_reading_replaces_one_figure_and_the_others_stay_computed():
    computed = mixer.figures(made(), 9.0)
    read = mixer.figures(made(gain_db=-7.3), 9.0)
    assert read.gain_db == -7.3
    assert read.iip3_dbm == computed.iip3_dbm
    assert read.estimated == ()
    # Nobody knows what the wiring of an array lets back to its input.
    assert mixer.figures(made(type="transistor_array"), -10.0).estimated == ("oscillator_leak_db",)
    stated = mixer.figures(made(drive_dbm=13.0))
    assert (stated.drive_dbm, stated.drive_range_dbm) == (13.0, (10.0, 16.0))


def test_a_transformers_loss_is_the_signals_and_a_rings_drives():
    lossless = mixer.figures(made(transformer_loss_db=0.0), 9.0)
    lossy = mixer.figures(made(transformer_loss_db=1.0), 10.0)
    assert lossy.gain_db == pytest.approx(lossless.gain_db - 1)
    assert lossy.noise_figure_db == pytest.approx(lossless.noise_figure_db + 1)
    assert lossy.iip3_dbm == pytest.approx(lossless.iip3_dbm + 1)


def test_diodes_in_the_table_bear_what_they_are_driven_with():
    for name in diodes():
        over = over_drive(made(diode=name))
        hardest = at_drive(made(diode=name), over.most_dbm)
        assert hardest.largest_a <= diodes()[name].most_a * 1.02


def test_what_a_mixer_bears_is_kept_for_drives_that_hardly_differ():
    ring = Mixer(id="m", name="M", diode="1n5711", figures_from="circuit")
    one, other, far = (at_drive(ring, dbm) for dbm in (7.31, 7.33, 7.44))
    assert one.p1db_in_dbm == other.p1db_in_dbm
    assert one.gain_db != other.gain_db
    # Of a drive by itself, solved at exactly that: half a tenth of a decibel is all that rounding takes.
    for made in (one, far):
        board, diode = BOARDS[ring.type], diode_of(ring)
        watt = compression_w(board, diode, float(emf_v(ring, made.drive_dbm)), PORTS_OHM)
        assert made.p1db_in_dbm == pytest.approx(dbm(watt) + ring.transformer_loss_db, abs=0.06)


def test_a_rings_balance_is_its_closed_form():
    """Offset of four diodes that differ by 10 mV: 10 mV/(2 sqrt 2); carrier over sideband 2 offset/EMF, with
    −10 dBm of audio 29.03 dB (hand calculation).
    """
    found = balance(made(oscillator="carrier", balance_trimmed="not_at_all"), 9.0, -10.0)
    assert isinstance(found, Balance)
    assert found.devices_db == pytest.approx(29.031, abs=0.01)
    assert found.transformer_db is None
    assert found.trimmed_db == found.untrimmed_db


def test_the_balance_of_two_diodes_is_that_of_the_simulated_circuit():
    """Carrier of halves that differ by 1 % 0.40651 mV, and of 2 mV at one diode 0.35353 mV, with +7 dBm by
    transient simulation; loss 9.0356 dB without the transformer's; audio of −10 dBm is an EMF of 0.2 V.
    """
    stage = made(oscillator="carrier", type="two_diode", balance_trimmed="not_at_all")
    found, sideband = balance(stage, 7.0, -10.0), 0.2 * 10 ** (-9.0356 / 20) / 2
    assert found.transformer_db == pytest.approx(20 * log10(sideband / 0.40651e-3), abs=0.02)
    assert found.devices_db == pytest.approx(20 * log10(sideband / (0.35353e-3 * 10 / 2)), abs=0.02)
    together = -10 * log10(10 ** (-found.transformer_db / 10) + 10 ** (-found.devices_db / 10))
    assert found.untrimmed_db == pytest.approx(together)


def test_an_arrays_balance_and_its_largest_drive():
    """2 mV of offset between transistors of one array, 0.1 V of audio stepped up by the root of 30 (hand
    calculation: 42.73 dB); 0.6 V, peak, in 50 ohm is +5.56 dBm.
    """
    stage = made(oscillator="carrier", type="transistor_array", balance_trimmed="not_at_all")
    found = balance(stage, -6.0, -10.0)
    assert found.untrimmed_db == pytest.approx(42.73, abs=0.01)
    assert (found.devices_db, found.transformer_db) == (found.untrimmed_db, None)
    assert over_drive(stage).most_dbm == pytest.approx(5.563, abs=1e-3)


def test_the_least_drive_is_a_decibel_short_of_the_hardest():
    for type in ("ring", "two_diode", "transistor_array"):
        over = over_drive(made(type=type))
        assert over.drive_dbm[-1] == 20.0
        at_least = at_drive(made(type=type), over.least_dbm)
        hardest = at_drive(made(type=type), 20.0)
        assert hardest.gain_db - at_least.gain_db == pytest.approx(1.0, abs=0.02)
        # Beyond the ends it does as at them.
        assert at_drive(made(type=type), 30.0).gain_db == hardest.gain_db


def test_what_betters_the_balance():
    def carrier(**fields):
        return balance(
            made(**{"oscillator": "carrier", "type": "two_diode", **fields}), 9.0, -10.0
        ).trimmed_db

    plain = carrier()
    # Half of the potentiometer before each diode makes up for a little of their difference by itself.
    assert carrier(balance_trimmed="not_at_all") == pytest.approx(plain - 20, abs=0.1)
    assert carrier(balance_trimmed="both") == pytest.approx(plain + 10)
    # No trimmer stands in an array's circuit.
    array = carrier(type="transistor_array")
    assert carrier(type="transistor_array", balance_trimmed="both") == array
    assert carrier(matching="matched") > plain + 5
    louder = balance(made(oscillator="carrier", type="two_diode"), 9.0, -4.0)
    assert louder.trimmed_db == pytest.approx(plain + 6)


def test_only_what_counts_is_asked_for():
    def asked(**fields):
        stage = made(**fields)
        return set(type(stage).model_fields) - stage.idle_fields

    circuit = {"diode", "transformer_loss_db", "uneven_share", "tail_a", "degeneration_ohm", "inner_ohm"}
    differ = {"matching", "difference_v"}
    assert not asked(figures_from="type") & (circuit | differ | {"balance_trimmed"})
    assert asked() & circuit == {"diode", "transformer_loss_db", "uneven_share"}
    assert asked(type="transistor_array") & circuit == {"tail_a", "degeneration_ohm", "inner_ohm"}
    assert differ <= asked()
    assert "balance_trimmed" not in asked()
    assert differ | {"balance_trimmed"} <= asked(oscillator="carrier")


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(["ring", "two_diode", "transistor_array"]),
    st.sampled_from(sorted(diodes())),
    st.floats(-200, 100),
    st.floats(0, 6),
    st.floats(1e-4, 0.2),
    st.floats(0, 1e4),
    st.floats(50, 2e4),
)
def test_any_circuit_at_any_drive_has_figures_or_a_reason(type, diode, drive, loss, tail, ohm, inner):
    stage = made(
        type=type,
        diode=diode,
        transformer_loss_db=loss,
        tail_a=tail,
        degeneration_ohm=ohm,
        inner_ohm=inner,
        oscillator="carrier",
    )
    for found in (at_drive(stage, drive), balance(stage, drive, -10.0)):
        assert isinstance(found, AtDrive | Balance) or found.reason.endswith(".")
    assert np.isfinite(mixer.figures(stage, drive).gain_db)
