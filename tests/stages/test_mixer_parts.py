"""Mixers of diodes as they are soldered: transformers, the balance, what stands before audio."""

from math import log10, pi

import pytest

from core.circuits import nodal
from core.circuits.circuit import Branch, Circuit, Part, Port
from core.circuits.switching.diodes import RING, TWO_DIODES
from core.model.bands import Band
from core.model.stages.mixers import Mixer
from core.stages.mixers.coils import trifilar
from core.stages.mixers.design import Lowest, design, lowest
from core.stages.mixers.drive import at_drive, track_ohm
from core.stages.outcome import Unsolved
from core.trade.cores import cores

AT = Lowest(signal_hz=7e6, oscillator_hz=2e6)


def made(**fields):
    return Mixer(**{"id": "m", "name": "M", "figures_from": "circuit", "diode": "1n5711", **fields})


def soldered(**fields):
    found = design(made(**fields), AT)
    assert not isinstance(found, Unsolved), found
    return found


def across(board, volts):
    """Every diode's voltage from the ports' ones, as the solver of mixers has it."""
    return sorted(sum(a * v for a, v in zip(row, volts, strict=True)) for row in board.across)


@pytest.mark.parametrize(("type", "board"), [("ring", RING), ("two_diode", TWO_DIODES)])
@pytest.mark.parametrize("oscillator", ["vfo", "carrier"])
def test_diodes_stand_as_the_solver_has_them(type, board, oscillator):
    """With wires for diodes' neighbours and any voltages at the ports: node voltages by hand, halves of the
    windings as large as their ports, against the rows that the figures are computed from.
    """
    found = soldered(type=type, oscillator=oscillator, balance_trimmed="both")
    osc, sig, conv = 0.31, 0.17, 0.05
    tap = "tap" if oscillator == "carrier" else "converted"
    volts = {"0": 0.0, "oscillator": osc, "signal": sig, tap: conv, "p": conv + sig, "q": conv - sig}
    for branch in found.circuit.of_role("transformer"):
        # Starts are the first of each pair: every winding has its port's voltage from start to end.
        ends = [branch.nodes[n : n + 2] for n in (0, 2, 4)]
        whole = volts[ends[0][0]] - volts[ends[0][1]]
        for start, end in ends[1:]:
            if start not in volts:
                volts[start] = volts[end] + whole
            if end not in volts:
                volts[end] = volts[start] - whole
            assert volts[start] - volts[end] == pytest.approx(whole)
    for branch in found.circuit.of_role("potentiometer", "balance_resistor"):
        # No current flows in them while no diode conducts.
        one, two = branch.nodes
        volts.setdefault(one, volts.get(two))
        volts.setdefault(two, volts.get(one))
    told = sorted(volts[a] - volts[c] for _, (a, c) in found.circuit.hardware)
    assert told == pytest.approx(across(board, (osc, sig, conv)))


@pytest.mark.parametrize("f_hz", [1.8e6, 7e6, 30e6])
def test_what_a_winding_takes_is_what_the_nodal_solver_finds(f_hz):
    coil = trifilar("FT37-43", 7e6)
    ports = (Port("a", 50.0), Port("b", 50.0))
    line = Circuit((Branch(coil.windings("T1", 1), ("a", "0", "b", "0", "c", "d")),), ports)
    # The third winding is open: a resistor of no matter keeps its nodes from hanging.
    open_end = (
        Branch(Part("R1", "resistor", 1e9), ("c", "0")),
        Branch(Part("R2", "resistor", 1e9), ("d", "0")),
    )
    s21 = nodal.solve(Circuit((*line.branches, *open_end), ports), [f_hz]).s[1, 0, 0]
    assert coil.lost_db(f_hz) == pytest.approx(-20 * log10(abs(s21)), abs=1e-6)


def test_turns_are_the_fewest_whose_reactance_is_four_times_the_impedance():
    al = cores()["FT37-43"].al_h
    for hz in (1.8e6, 3.5e6, 7e6):
        coil = trifilar("FT37-43", hz)
        turns = coil.wound.turns
        assert coil.henry == pytest.approx(al * turns**2)
        assert coil.reactance_ohm == pytest.approx(2 * pi * hz * al * turns**2)
        assert coil.reactance_ohm >= 200.0 > 2 * pi * hz * al * (turns - 1) ** 2
        # A parallel inductance of that takes less than a tenth of a decibel, and of a half as much a quarter.
        assert coil.lost_db(hz) < 0.08
    assert trifilar("", 1.8e6).henry == pytest.approx(200 / (2 * pi * 1.8e6))
    assert "take a larger core" in trifilar("T25-2", 1.8e6).reason
    assert trifilar("XY", 1.8e6).reason == "There is no core called XY in the table; choose another."


def test_fewer_turns_than_that_would_be_heard():
    """A tenth of the impedance: 20 lg(1 + R/(2jX)) by hand, 14 dB at X = R/10."""
    coil = trifilar("FT37-43", 7e6)
    low_hz = 5.0 / (2 * pi * coil.henry)
    assert coil.lost_db(low_hz) == pytest.approx(10 * log10(1 + 25.0**2 / 5.0**2), abs=0.1)


def test_where_transformers_must_still_work():
    bands = (
        Band(name="40m", low_hz=7.0e6, high_hz=7.2e6, sideband="lower", scheme="if_minus_vfo"),
        Band(name="20m", low_hz=14.0e6, high_hz=14.35e6, sideband="upper", scheme="sum"),
        Band(name="15m", low_hz=21.0e6, high_hz=21.45e6, sideband="upper", scheme="vfo_minus_if"),
    )
    assert lowest(made(), bands, 9e6) == Lowest(signal_hz=7e6, oscillator_hz=1.8e6)
    assert lowest(made(), bands[1:], 9e6) == Lowest(signal_hz=14e6, oscillator_hz=5e6)
    assert lowest(made(), bands[2:], 9e6).oscillator_hz == 30e6
    assert lowest(made(oscillator="carrier"), bands, 9e6) == Lowest(signal_hz=9e6, oscillator_hz=9e6)
    # A step of the IF winds nothing afresh.
    assert lowest(made(), bands, 9.001e6) == lowest(made(), bands, 9e6)


def test_a_modulator_has_a_balance_and_a_detector_or_mixer_none():
    def roles(**fields):
        return {row.role for row in soldered(**fields).parts}

    trimmed = {"potentiometer", "trimmer"}
    assert roles(oscillator="carrier", balance_trimmed="both") >= trimmed
    assert roles(oscillator="carrier", balance_trimmed="resistance") & trimmed == {"potentiometer"}
    assert not roles(oscillator="carrier", balance_trimmed="not_at_all") & trimmed
    assert not roles(oscillator="carrier", direction="receive", balance_trimmed="both") & trimmed
    assert roles(oscillator="vfo") == {"transformer", "diode"}
    audio = {"termination", "termination_block", "choke", "bypass", "coupling"}
    assert roles(oscillator="carrier", direction="receive") == {"transformer", "diode", *audio}


def test_the_potentiometer_makes_up_for_diodes_that_differ():
    """By hand: +7 dBm behind 50 Ω are an EMF of 1.416 V, the 1N5711 drops some 0.45 V, and 100 Ω lie in the
    loop: 10 mA, so that two diodes that each stray by 10 mV want 1.4 Ω between them, times three.
    """
    wanted, track = track_ohm(made(oscillator="carrier"))
    assert wanted == pytest.approx(3 * 2**0.5 * 10e-3 / 10e-3, rel=0.2)
    assert track == 10.0
    assert track_ohm(made(oscillator="carrier", matching="matched"))[0] == pytest.approx(wanted / 5)
    # 150 Ω lie in the loop of two diodes.
    two, _ = track_ohm(made(oscillator="carrier", type="two_diode"))
    assert two == pytest.approx(1.5 * wanted, rel=0.05)
    assert track_ohm(made()) is None
    # Between two transistors of an array 2 mV, each of which carries half of the tail's 1 mA.
    array, _ = track_ohm(made(oscillator="carrier", type="transistor_array"))
    assert array == pytest.approx(3 * 2**0.5 * 2e-3 / 0.5e-3)


def test_a_larger_potentiometer_as_built_costs_gain():
    plain, large = made(oscillator="carrier"), made(oscillator="carrier", as_built={"potentiometer": 100.0})
    one, other = at_drive(plain, 7.0), at_drive(large, 7.0)
    # Each diode has half the track before it, two of them side by side in the loop of 100 Ω.
    assert one.gain_db - other.gain_db == pytest.approx(20 * log10(127.5 / 105), abs=0.5)
    (row,) = [row for row in design(large, AT).parts if row.role == "potentiometer"]
    assert (row.preferred, row.as_built, row.fitted) == (10.0, 100.0, 100.0)
    halves = design(large, AT).circuit.of_role("potentiometer")
    assert [branch.part.value for branch in halves] == [50.0, 50.0]
    # What decides nothing there leaves the figures as they are.
    assert at_drive(made(oscillator="carrier", as_built={"coupling": 10e-6}), 7.0).gain_db == one.gain_db


def test_what_stands_before_audio_keeps_rf_out_and_lets_speech_through():
    """At the IF the tap sees its 50 Ω, and audio next to nothing; speech passes within 0.5 dB."""
    found = design(made(oscillator="carrier"), Lowest(signal_hz=9e6, oscillator_hz=9e6))
    roles = ("termination", "termination_block", "choke", "bypass", "coupling")
    network = Circuit(found.circuit.of_role(*roles), (Port("tap", 50.0), Port("converted", 50.0)))
    solved = nodal.solve(network, [300.0, 1e3, 3e3, 9e6])
    loss_db = -20 * log10(abs(solved.s[1, 0, 0])), -20 * log10(abs(solved.s[1, 0, 2]))
    assert max(loss_db) < 0.5
    assert -20 * log10(abs(solved.s[1, 0, 3])) > 30
    seen = 50 * (1 + solved.s[0, 0, 3]) / (1 - solved.s[0, 0, 3])
    assert abs(seen - 50) < 8
    choke = next(row for row in found.parts if row.role == "choke")
    assert (choke.designed, choke.preferred) == (pytest.approx(500 / (2 * pi * 9e6)), 10e-6)


def test_cores_lose_what_is_typed_in():
    """A resistor across the winding: 0.5 dB between 50 Ω, and nothing where nothing is lost."""
    found = soldered(transformer_loss_db=0.5)
    (one, _) = found.circuit.of_role("stray")
    ports = (Port("a", 50.0), Port("a", 50.0))
    s21 = nodal.solve(Circuit((Branch(one.part, ("a", "0")),), ports), [7e6]).s[1, 0, 0]
    assert -20 * log10(abs(s21)) == pytest.approx(0.5)
    assert soldered(transformer_loss_db=0.0).circuit.of_role("stray") == ()


def test_a_mixer_of_which_only_the_type_is_known_has_no_parts():
    assert made(figures_from="type").members == ()
    assert len(made().members) == 1


@pytest.mark.parametrize("core", ["", "FT50-43", "BN-43-2402"])
def test_transformers_on_any_core_say_how_they_are_wound(core):
    found = soldered(core=core)
    rows = [row for row in found.parts if row.role == "transformer"]
    assert [row.ref for row in rows] == ["T1", "T2"]
    if not core:
        assert found.wound == ()
        assert rows[0].note == "trifilar, three windings of 4.5 µH or more each"
        return
    for row, (ref, wound) in zip(rows, found.wound, strict=True):
        assert (row.ref, wound.on) == (ref, core)
        assert row.type == f"3 × {wound.turns} turns on {core}"
        assert wound.wire_m <= 0.315e-3
    assert found.transformers[2].henry > found.transformers[1].henry
