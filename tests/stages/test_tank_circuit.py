"""The VFO's circuit, read by the resonance, by the nodal solver and by the drawing."""

from dataclasses import replace

import numpy as np
import pytest

from app.sheet.tank_schematic import tank_svg
from core.circuits import nodal
from core.circuits.circuit import Circuit, Port, without_dc_path, without_path
from core.model.stages.tank import Feedback, Tank
from core.stages.vfo.oscillator import GATE, SOURCE
from core.stages.vfo.tank import TANK, WantedRange, circuit, resonance
from core.stages.vfo.tank_design import design

WANTED = (
    WantedRange("20m", 5.31e6, 5.56e6),
    WantedRange("12m", 4.6e6, 4.7e6, "parallel"),
    WantedRange("10m", 5.45e6, 5.58e6, "series"),
)


def tank(tuned, device="j310"):
    coil = 3.3e-6 if tuned == "parallel" else 9e-6
    feedback = Feedback(device=device, choke_h=None)
    return Tank(tuned=tuned, coil_h=coil, feedback=feedback, compensation_f=33e-12, differential_f=20e-12)


@pytest.mark.parametrize("band", ["20m", "12m", "10m"])
@pytest.mark.parametrize("device", ["j310", "2n3904"])
@pytest.mark.parametrize("tuned", ["parallel", "series"])
def test_the_nodal_solver_finds_a_pole_where_the_lossless_tank_resonates(tuned, device, band):
    made = design(tank(tuned, device), WANTED)
    mode = resonance(made, band, np.array([0.0]))
    soldered = circuit(made, band)
    assert without_path(soldered) == ()
    reactive = tuple(
        replace(each, part=replace(each.part, q=None))
        for each in soldered.branches
        if each.part.kind != "resistor"
    )
    # A source of so high a resistance that the tank alone decides.
    driven = Circuit(reactive, (Port(TANK, 1e9),))
    step = 1e-8
    found = nodal.solve(driven, mode.f_hz[0] * np.array([1 - step, 1 + step]))
    assert found.at(TANK).imag[0] > 0 > found.at(TANK).imag[1]
    # In a series-tuned tank the coil lies between tank and gate.
    across = found.at(TANK) - (found.at(GATE) if tuned == "series" else 0)
    for node in (TANK, GATE, SOURCE):
        np.testing.assert_allclose((found.at(node) / across).real, mode.at(node)[0], rtol=1e-6)


def test_shifted_bands_have_their_own_parts_where_they_belong():
    made = design(tank("parallel"), WANTED)
    own = {
        band: {(b.part.role, b.part.which): b.nodes for b in circuit(made, band).branches}
        for band in ("20m", "12m", "10m")
    }
    assert own["12m"]["shift", "12m"] == own["12m"]["trimmer", "12m"] == (TANK, "0")
    assert own["10m"]["shift", "10m"][0] == TANK
    assert own["10m"]["padder", None][0] == own["10m"]["shift", "10m"][1] != TANK
    assert own["20m"]["padder", None][0] == TANK
    assert {which for of in own.values() for _, which in of if which in ("12m", "10m")} == {"12m", "10m"}
    assert not {key for key in own["20m"] if key[1] in ("12m", "10m")}


def test_gate_and_source_have_their_bias_and_only_the_tuning_branch_floats():
    for device in ("j310", "2n3904"):
        made = design(tank("parallel", device), WANTED)
        assert without_dc_path(circuit(made, "10m")) == ("shifted", "inner")
        assert without_dc_path(circuit(made, "20m")) == ("inner",)


@pytest.mark.parametrize("tuned", ["parallel", "series"])
def test_the_drawing_holds_every_part_that_is_soldered_on_any_band(tuned):
    made = design(tank(tuned), WANTED)
    svg = tank_svg(made)
    soldered = {
        part.ref
        for band in ("20m", "12m", "10m")
        for part in circuit(made, band).parts
        if part.role not in ("stray", "differential_cold")
    }
    assert {"L1", "CV", "CB12m", "CT12m", "CB10m", "CK", "CD", "C1", "C2", "RG", "RS"} <= soldered
    for ref in soldered:
        assert svg.count(f">{ref}</text>") == 1 or ref == "buffer", ref
