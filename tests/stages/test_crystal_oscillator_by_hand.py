"""Crystal oscillators: first values and bias against small circuits solved here; what a design tells."""

from dataclasses import replace
from math import inf, pi, sqrt

import numpy as np
import pytest
from scipy.optimize import brentq

from core.circuits.active.operating import bias
from core.circuits.active.oscillation import in_row
from core.circuits.circuit import GROUND, THERMAL_V
from core.model.stages.filters import Crystal
from core.model.values.part_names import reference
from core.stages.crystal_oscillator import values as first
from core.stages.crystal_oscillator.asked import Place
from core.stages.crystal_oscillator.design import design, without_row
from core.stages.crystal_oscillator.soldered import (
    BUFFER,
    FAMILY,
    OSCILLATOR,
    bias_ohm,
    row_of,
)
from core.stages.crystal_oscillator.values import Values
from core.stages.crystal_oscillator.working import room_of, span_hz, worst_q
from core.trade.devices import devices
from tests.stages.test_crystal_oscillator import BOTH, asked

ONE = (Place(which=None, wanted_hz=9.0e6),)


def own_ohm(gm_s, f_hz, upper_f, lower_f, base_s, emitter_s, gain):
    """What a Colpitts circuit shows between base and ground [ohm], by its two nodes' currents."""
    w = 2 * pi * f_hz
    upper, lower = 1j * w * upper_f + gm_s / gain, 1j * w * lower_f
    # What flows into base and emitter: a current at the base, and gm times what stands between them.
    matrix = np.array([[base_s + upper, -upper], [-upper - gm_s, emitter_s + lower + upper + gm_s]])
    return np.linalg.solve(matrix, [1.0, 0.0])[0]


def found_for(circuit=None, **other):
    """What is asked, its values without any, and its crystal."""
    of = asked(circuit, **{"places": ONE} | other)
    values = Values(of)
    return of, values, first.crystal_of(of, values.built)


@pytest.mark.parametrize("device", ["2n3904", "j310"])
@pytest.mark.parametrize("divider_f", [(220e-12, 220e-12), (150e-12, 330e-12)])
def test_the_transconductance_needed_is_that_of_two_nodes(divider_f, device):
    """To the first order in the loads, which are small beside the divider's reactances."""
    of, _, fitted = found_for({"device": device})
    model = devices()[device].model
    gain, base_s = (inf, 1 / 100e3) if device == "j310" else (model.current_gain, 1 / 20e3)
    in_series = divider_f[0] * divider_f[1] / sum(divider_f)
    loss_ohm = 20.0 * (1 + fitted.of.holder_capacitance_f / in_series) ** 2

    def left(gm_s):
        return loss_ohm + own_ohm(gm_s, 9e6, *divider_f, base_s, 1 / 600.0, gain).real

    assert first.needed_s(of, fitted, divider_f, 20.0) == pytest.approx(brentq(left, 1e-4, 0.1), rel=0.04)


def test_where_the_base_takes_more_than_comes_back_nothing_starts():
    of, _, fitted = found_for()
    assert first.needed_s(of, fitted, (1e-12, 1e-9), 20.0) == inf


def test_the_first_current_is_what_the_worst_crystal_needs():
    crystal = Crystal()
    of, values, fitted = found_for({"worst_ohm": 150.0, "margin": 4.0})
    swing_v = first.first_oscillator(of, values, fitted, 100e-12)
    lower_f = values.fitted["feedback_lower", None]
    model = devices()[of.circuit.device].model
    # The transistor's own capacitance stands across the upper one: with both some 200 pF in series 100.
    upper_f = values.fitted["feedback_upper", None] + model.emitter_f + model.transit_s * 1e-3 / THERMAL_V
    at_load = upper_f * lower_f / (upper_f + lower_f)
    assert at_load == pytest.approx(100e-12, rel=0.08)
    loss_ohm = 150.0 * (1 + crystal.holder_capacitance_f / at_load) ** 2

    def left(gm_s):
        return loss_ohm + own_ohm(gm_s, 9e6, upper_f, lower_f, 1 / 20e3, 1 / 600.0, model.current_gain).real

    wanted_a = 4.0 * THERMAL_V * brentq(left, 1e-4, 0.1)
    assert values.current_a == pytest.approx(wanted_a, rel=0.08)
    assert values.current_a > 1.5 * first.LEAST_A
    # The emitter swings by what lets its mean current have no more than 30 % of the supply; above it some.
    assert 0.3 * of.circuit.supply_v < swing_v < 0.5 * of.circuit.supply_v


def test_a_crystal_that_needs_next_to_nothing_still_gets_the_least_current():
    of, values, fitted = found_for(
        {"worst_ohm": 1.0, "margin": 2.0}, places=(Place(which=None, wanted_hz=2e6),)
    )
    first.first_oscillator(of, values, fitted, 400e-12)
    assert values.current_a == 0.2e-3


def test_the_divider_holds_the_base_where_it_is_wanted():
    """As designed: 30 % of the supply at the emitter and 0.7 V more at the base, its current counted."""
    of, values, _ = found_for()
    model = devices()[of.circuit.device].model
    first.biased(of, values, model, 2e-3)
    upper, lower = (values.rows[role, OSCILLATOR].designed for role in ("bias_upper", "bias_lower"))
    base_a = 2e-3 / model.current_gain
    supply_v = of.circuit.supply_v
    base_v = (supply_v / upper - base_a) / (1 / upper + 1 / lower)
    assert base_v == pytest.approx(0.3 * supply_v + 0.7, rel=1e-9)
    assert values.rows["bias_emitter", OSCILLATOR].designed == pytest.approx(0.3 * supply_v / 2e-3)


def test_a_jfets_choke_and_resistor():
    of, values, _ = found_for({"device": "j310"})
    model = devices()["j310"].model
    values.put("feedback_lower", None, 200e-12)
    first.biased(of, values, model, 3e-3)
    # Id = k (Vgs - Vt)²: the gate 3 mA's worth below the source.
    gate_v = abs(model.threshold_v) - sqrt(3e-3 / model.slope_a_v2)
    assert values.rows["bias_source", None].designed == pytest.approx(gate_v / 3e-3)
    # Forty times the reactance that it stands at.
    w = 2 * pi * 9e6
    assert w * values.rows["choke", OSCILLATOR].designed == pytest.approx(40 / (w * 200e-12))
    # Hardly less than what flows at no voltage at all takes a resistor of next to nothing.
    most = model.slope_a_v2 * model.threshold_v**2
    first.biased(of, values, model, most)
    assert values.rows["bias_source", None].designed == pytest.approx(0.01 / most)


def test_what_is_not_solved_for_has_the_reactances_of_practice():
    of, values, _ = found_for(port_ohm=75.0)
    first.fixed(of, values)
    w = 2 * pi * 9e6
    assert 1 / (w * values.rows["coupling", OSCILLATOR].designed) == pytest.approx(20.0)
    assert w * values.rows["choke", BUFFER].designed == pytest.approx(40 * 75.0)
    feed, block = values.rows["feed", None], values.rows["bypass", None]
    assert (feed.designed, block.designed) == (100.0, 100e-9)


def test_the_buffers_resistors_give_level_and_current():
    """7 dBm into 50 ohm is 0.708 V and 14.2 mA of peak; 1.6 times that flows at rest."""
    of, values, _ = found_for({"resistors": "exact"})
    first.first_buffer(of, values, 0.4)
    peak_a = sqrt(2 * 10 ** (7.0 / 10) * 1e-3 / 50.0)
    rest_a = 1.6 * peak_a
    own = THERMAL_V / rest_a
    assert peak_a == pytest.approx(14.16e-3, rel=1e-3)
    # 0.4 V at the emitter before it drive so much current through what its emitter has in all.
    assert values.wanted_ohm == pytest.approx(0.4 / peak_a - own)
    degeneration = values.fitted["degeneration", None]
    emitter_v = 0.15 * of.circuit.supply_v
    assert degeneration == pytest.approx(min(values.wanted_ohm, 0.6 * emitter_v / rest_a))
    direct = degeneration + values.fitted["bias_emitter", BUFFER]
    assert direct * rest_a == pytest.approx(emitter_v, rel=1e-9)


def test_what_the_emitter_cannot_take_a_resistor_before_the_base_takes():
    of, values, _ = found_for({"resistors": "exact"})
    model = devices()[of.circuit.buffer].model
    first.degenerated(of, values, 300.0, 10e-3)
    degeneration, own = values.fitted["degeneration", None], THERMAL_V / 10e-3
    assert degeneration == pytest.approx(0.6 * 0.15 * of.circuit.supply_v / 10e-3)
    into_s = 1 / (model.current_gain * (degeneration + own))
    into_s += sum(1 / values.fitted[role, BUFFER] for role in ("bias_upper", "bias_lower"))
    # Current of the emitter over what comes in, with the resistor and without.
    before = values.fitted["input_resistor", None]
    share = 1 / (1 + before * into_s)
    assert share / (degeneration + own) == pytest.approx(1 / (300.0 + own), rel=1e-9)
    # Hardly more than it can take: none.
    first.degenerated(of, values, 1.05 * degeneration, 10e-3)
    assert ("input_resistor", None) not in values.fitted


def test_the_bias_resists_its_current_as_the_circuit_does():
    """By how much a base-emitter voltage moves for a collector current, with the feed's resistor bridged."""
    of = asked({"as_built": {"feed": 1e-3}}, places=ONE)
    made = design(of)
    plain = without_row(made, of.circuit.supply_v)

    def at_rest(times):
        """Collector current and base-emitter voltage with a saturation current so many times as large."""
        branches = []
        for each in plain.branches:
            if (each.part.role, each.part.which) == ("transistor", OSCILLATOR):
                ref, device = each.part.ref, each.part.device
                device = replace(device, saturation_a=times * device.saturation_a, early_v=inf)
                each = replace(each, part=replace(each.part, device=device))
            branches.append(each)
        point = bias(replace(plain, branches=tuple(branches))).transistors[ref]
        return point.output_a, point.control_v

    (one_a, one_v), (two_a, two_v) = at_rest(1.0), at_rest(3.0)
    assert two_a > one_a
    assert (one_v - two_v) / (two_a - one_a) == pytest.approx(bias_ohm(of, made.fitted.values), rel=0.02)


def test_several_frequencies_begin_at_a_switch_and_a_single_one_at_the_crystal():
    def trimmers(made):
        return {b.part.which: b.nodes for b in made.circuit.branches if b.part.role == "trimmer"}

    def coils(made):
        return {b.part.which: b.nodes for b in made.circuit.branches if b.part.role == "coil"}

    made = design(asked())
    assert coils(made) == {side: (f"switch {side}", f"trimmer {side}") for side in ("upper", "lower")}
    assert trimmers(made) == {side: (f"trimmer {side}", GROUND) for side in ("upper", "lower")}
    one = design(asked(places=ONE))
    assert coils(one) == {None: ("series", "trimmer")}
    assert trimmers(one) == {None: ("trimmer", GROUND)}
    # Far enough above its resonance it wants no coil.
    high = design(asked(places=(Place(which=None, wanted_hz=9.0025e6),)))
    assert coils(high) == {}
    assert trimmers(high) == {None: ("series", GROUND)}


def test_what_a_design_tells_of_itself():
    made = design(asked({"device": "2n2222a", "buffer": "2n3904"}, marked_hz=9.0005e6))
    assert made.span_hz == pytest.approx((0.999 * 8.9987e6, 1.001 * 9.0017e6))
    notes = {row.key: row.note for row in made.parts}
    assert notes["transistor:1"] == "2N2222A, oscillator"
    assert notes["transistor:2"] == "2N3904, buffer"
    assert notes["crystal:1"] == "marked 9.0005 MHz; series resonance; Lm 16 mH, C0 3.5 pF"
    # Each end of the trimmer, read off the whole circuit.
    for pulling, place in zip(made.pullings, BOTH, strict=True):
        ends = made.pulled_hz(place.which, np.array([60e-12, 5e-12]))
        assert (pulling.reachable_low_hz, pulling.reachable_high_hz) == tuple(ends)


def test_voltages_and_currents_belong_together():
    made = design(asked())
    (upper, _), crystal = made.places, Crystal()
    assert upper.peak_v(50.0) == pytest.approx(sqrt(2 * 50.0 * 1e-3 * 10 ** (upper.level_dbm / 10)))
    assert replace(upper, level_dbm=None).peak_v(50.0) == 0.0
    # The crystal's current flows through the divider; the buffer takes some of it at the emitter.
    w = 2 * pi * 9e6
    through_a = upper.emitter_v * w * made.fitted.values["feedback_lower", None]
    assert upper.current_a == pytest.approx(through_a, rel=0.1)
    assert upper.settles_s == pytest.approx(crystal.quality_factor / (pi * 9e6))
    parallel_hz = 9e6 * sqrt(1 + 1 / (w**2 * crystal.motional_inductance_h * crystal.holder_capacitance_f))
    assert parallel_hz * (1 - 1e-6) < span_hz(made.fitted.crystal)[1] < parallel_hz
    assert worst_q(made.asked, made.fitted.crystal) == pytest.approx(crystal.quality_factor / 2)


def test_what_the_supply_leaves_its_swing_goes_with_the_voltages_at_base_and_emitter():
    made = design(asked())
    upper, row = made.places[0], row_of(made.fitted, "upper")
    row_ohm = complex(in_row(row, np.array([upper.f_hz]), {})[0])
    room = room_of(made.around, made.rest, upper.f_hz, row_ohm)
    assert room.common_times * upper.control_v == pytest.approx(upper.emitter_v)
    assert room.control_times * upper.control_v == pytest.approx(upper.current_a * abs(row_ohm))
    at = made.rest.volts
    assert (room.over_common_v, room.over_control_v) == (at["fed"] - at["emitter"], at["fed"] - at["base"])
    assert room.over_common_v - room.over_control_v == pytest.approx(0.7, abs=0.1)


def test_beside_its_crystal_it_would_run_where_coil_and_holder_resonate():
    made = design(asked())
    beside_hz, margin = made.beside("upper")
    f = beside_hz * np.array([0.997, 1.003])
    # With a coil whose Q rises with the root of frequency.
    rising = {f"{reference(FAMILY, 'coil', 'upper')}.q": made.fitted.coil_q["upper"] * np.sqrt(f / 9e6)}
    ohm = in_row(row_of(made.fitted, "upper"), f, rising)
    wanted, needed = made.around.far_off(f).holding(f, ohm.real)
    left = ohm.imag - wanted
    assert left[0] < 0 < left[1]
    assert margin == pytest.approx(made.around.transconductance_s / needed.mean(), rel=0.02)
