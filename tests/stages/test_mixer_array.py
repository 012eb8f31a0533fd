"""Mixers of transistors as they are soldered: bias, couplings, transformers, and what their figures take."""

from math import log10, pi

import pytest

from core.circuits.circuit import GROUND
from core.model.stages.mixers import Mixer
from core.model.transistors import OwnTransistor
from core.rig.board.checks import misjoined
from core.rig.board.items import Soldered, items_of
from core.rig.board.placing import automatic
from core.stages.kinds.kind import Place
from core.stages.kinds.mixing import MIXER
from core.stages.mixers import array
from core.stages.mixers import board as diodes
from core.stages.mixers.array import values
from core.stages.mixers.design import ArrayDesign, Lowest, as_soldered, design
from core.stages.mixers.figures import figures

AT = Lowest(signal_hz=7e6, oscillator_hz=2e6)


def made(**fields):
    given = {"id": "m", "name": "M", "type": "transistor_array", "figures_from": "circuit", **fields}
    return Mixer(**given)


def soldered(**fields):
    found = design(made(**fields), AT)
    assert isinstance(found, ArrayDesign), found
    return found


@pytest.mark.parametrize("supply_v", [6.0, 9.0, 12.0, 13.8])
@pytest.mark.parametrize("tail_a", [0.5e-3, 1e-3, 3e-3])
def test_the_tail_carries_what_is_asked_and_all_transistors_stand_alike(supply_v, tail_a):
    found = soldered(supply_v=supply_v, tail_a=tail_a)
    at = found.rest.transistors
    lower = [at[f"Q{n}"].output_a for n in (1, 2)]
    upper = [at[f"Q{n}"].output_a for n in (3, 4, 5, 6)]
    # E24 is 10 % from one value to the next at most.
    assert sum(lower) == pytest.approx(tail_a, rel=0.055)
    assert lower[0] == pytest.approx(lower[1], rel=1e-6)
    # All but the upper bases' currents goes on.
    assert sum(upper) == pytest.approx(sum(lower), rel=0.02)
    assert max(upper) < 1.05 * min(upper)
    # None is near saturation: the oscillator moves the upper ones' feet.
    assert all(at[f"Q{n}"].output_v > 0.1 * supply_v for n in range(1, 7))
    # By hand: the tail's resistor stands at a base's voltage less a junction and half of the degeneration.
    volts, row = found.rest.volts, {each.ref: each.fitted for each in found.parts}
    assert volts["t"] / row["RE"] == pytest.approx(sum(lower) * (1 + 1 / 150), rel=1e-3)
    assert found.supply_a == pytest.approx(sum(lower) + (supply_v - volts["u"]) / row["RBU"], rel=0.02)


@pytest.mark.parametrize(
    ("oscillator", "direction"), [("vfo", "both"), ("carrier", "receive"), ("carrier", "transmit")]
)
def test_a_modulator_takes_audio_without_a_transformer_and_a_detector_gives_it(oscillator, direction):
    found = soldered(oscillator=oscillator, direction=direction)
    assert set(found.transformers) == {("vfo", "both"): {1, 2}, ("carrier", "receive"): {1}}.get(
        (oscillator, direction), {2}
    )
    ports = [(port.node, port.ohm) for port in found.circuit.ports]
    into = 1500.0 if direction == "transmit" else 50.0
    out = 1500.0 if (oscillator, direction) == ("carrier", "receive") else 50.0
    assert ports == [("signal", into), ("oscillator", 50.0), ("converted", out)]
    # The lower bases are fed alike, so that no carrier comes of their currents.
    assert found.rest.volts["b1"] == pytest.approx(found.rest.volts["b2"], abs=1e-6)
    # Every direct path ends somewhere.
    assert all(volt >= 0 for volt in found.rest.volts.values())


def test_capacitors_are_a_tenth_of_what_stands_around_them_at_their_lowest_frequency():
    mixer = made(oscillator="carrier", direction="receive")
    found = {key: exact for key, (exact, _) in values(mixer, (7e6, 2e6)).items()}
    ohm = {key: 1 / (2 * pi * found[key]) for key in found if key[0] in ("coupling", "bypass", "high_cut")}
    assert ohm["coupling", 1] / 2e6 == pytest.approx(5.0)
    assert ohm["bypass", 1] / 2e6 == pytest.approx(5.0)
    assert ohm["bypass", 2] / 7e6 == pytest.approx(5.0)
    assert ohm["bypass", 3] / 100.0 == pytest.approx(150.0)
    # Between both collectors' resistors: 50 kHz above speech and 100 Hz below it.
    assert ohm["high_cut", None] / 50e3 == pytest.approx(2 * 1500.0)
    assert ohm["coupling", 2] / 100.0 == pytest.approx(2 * 1500.0)
    modulator = values(made(oscillator="carrier", direction="transmit"), (7e6, 2e6))
    # Its input is audio.
    assert 1 / (2 * pi * 100.0 * modulator["bypass", 2][0]) == pytest.approx(150.0)


@pytest.mark.parametrize("type", ["ring", "two_diode", "transistor_array"])
@pytest.mark.parametrize(
    ("oscillator", "direction"), [("vfo", "both"), ("carrier", "receive"), ("carrier", "transmit")]
)
def test_parts_of_a_board_are_numbered_from_one_without_a_gap(type, oscillator, direction):
    mixer = made(type=type, oscillator=oscillator, direction=direction, balance_trimmed="both")
    numbers = {}
    for role, which, _ in (array if type == "transistor_array" else diodes).board(mixer):
        numbers.setdefault(role, []).append(which)
    # The signal's transformer is the first and the other one the second, also where it stands alone.
    windings = numbers.pop("transformer")
    assert windings in ([1], [2], [1, 2])
    assert len(numbers) > 1
    for role, which in numbers.items():
        assert which == [None] or sorted(which) == list(range(1, len(which) + 1)), role


def test_its_transformer_steps_up_to_what_stands_inside():
    """1500 Ω over 50 Ω: turns as the root, 5.5 to 1 by whole ones, and reactance enough at the port."""
    coil = soldered().transformers[1]
    assert (coil.wound.turns, coil.half.turns) == (4, 11)
    assert coil.reactance_ohm >= 200
    assert (2 * coil.half.turns / coil.wound.turns) ** 2 * 50 == pytest.approx(1500, rel=0.02)
    windings = coil.windings("T1", 1)
    assert windings.henry[1] / windings.henry[0] == pytest.approx((11 / 4) ** 2)
    refs = [ref for ref, _ in soldered().wound]
    assert refs[:3] == ["T1", "T1, second winding", "T1, third winding"]


def test_figures_are_those_of_the_parts_fitted():
    plain = as_soldered(made())
    assert plain.tail_a == pytest.approx(1e-3, rel=0.04)
    assert plain.degeneration_ohm == 47.0
    # A larger tail's resistor as built: less current, less gain, by the slope I/(2VT + I RE).
    built = as_soldered(made(as_built={"emitter": 4.4e3}))
    assert built.tail_a == pytest.approx(plain.tail_a / 2, rel=0.06)
    slope = {each.tail_a: each.tail_a / (0.05172 + each.tail_a * 47.0) for each in (plain, built)}
    told = 20 * log10(slope[built.tail_a] / slope[plain.tail_a])
    gained = figures(built, -10.0).gain_db - figures(plain, -10.0).gain_db
    assert gained == pytest.approx(told, abs=0.01)
    # The block of the levels counts with them, and is seen by its neighbours as it is soldered.
    detector = made(oscillator="carrier", direction="receive", as_built={"emitter": 4.4e3})
    block = MIXER.block(
        detector, Place(zone="if", drive_dbm=-10.0, design=design(detector, AT), speech_hz=9e6)
    )
    assert (block.input_ohm, block.output_ohm) == (50.0, 1500.0)
    lost = design(detector, AT).signal_lost_db(9e6)
    assert block.gain_db == pytest.approx(figures(as_soldered(detector), -10.0).gain_db - lost)


def test_half_of_the_balances_track_is_degeneration():
    modulator = made(oscillator="carrier", direction="transmit")
    rows = {row.ref: row.fitted for row in design(modulator, AT).parts}
    assert (rows["RD1"], rows["RD2"], rows["RV"]) == (36.0, 36.0, 22.0)
    assert as_soldered(modulator).degeneration_ohm == pytest.approx(47.0)
    bare = design(modulator.edited(("degeneration_ohm",), 5.0), AT)
    assert "RD1" not in {row.ref for row in bare.parts}
    assert as_soldered(modulator.edited(("degeneration_ohm",), 5.0)).degeneration_ohm == pytest.approx(11.0)


def test_what_is_no_bipolar_transistor_or_unknown_is_told():
    assert design(made(device="j310"), AT).reason == (
        "This mixer is for bipolar transistors and J310 is none; choose another for it."
    )
    assert "No transistor is called XY" in design(made(device="XY"), AT).reason
    own = OwnTransistor(name="XY", type="bipolar")
    assert isinstance(design(made(device="XY"), AT, (own,)), ArrayDesign)
    assert made(device="XY").with_transistor_named("XY", "ZZ").device == "ZZ"


def test_a_board_of_six_transistors_joins_what_the_circuit_joins():
    found = soldered(oscillator="carrier", direction="transmit")
    known = Soldered(rows={row.ref: row for row in found.parts}, wound=dict(found.wound), kinds={}, watt={})
    items = items_of(found.circuit, known)
    plan = automatic(items, tuple(port.node for port in found.circuit.ports), ("supply",))
    assert misjoined(plan, items) == ()
    assert sum(item.package.package == "to92" for item in items) == 6
    (track,) = [item for item in items if item.ref == "RV"]
    assert track.nodes == ("x1", "t", "x2")
    assert GROUND in {node for item in items for node in item.nodes}


def test_the_least_supply_and_the_largest_tail_leave_every_transistor_its_volts():
    """Three volts are the least that can be asked for: a junction and what saturates is left to each."""
    for tail_a in (5e-3, 20e-3):
        found = soldered(supply_v=3.0, tail_a=tail_a)
        assert all(found.rest.transistors[f"Q{n}"].output_v > 0.3 for n in range(1, 7))
