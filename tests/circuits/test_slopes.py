"""Slopes of a ladder network's transmission, against differences of what the solver gives."""

import numpy as np
import pytest

from core.circuits.circuit import Part
from core.circuits.ladder import Arm, Network, Transformer, solve
from core.circuits.slopes import log_slopes

COIL = Part("L1", "inductor", 1.2e-6, 120.0)
TANK = (Part("L2", "inductor", 0.8e-6, 150.0), Part("C2", "capacitor", 150e-12, 700.0))
TRAP = (Part("L4", "inductor", 0.3e-6, 80.0), Part("C4", "capacitor", 1e-10))
ROW = (Part("L3", "inductor", 2e-6, 90.0), Part("C3", "capacitor", 60e-12))
CRYSTAL = Part("X1", "crystal", 14.2e6, 60e3, 12e-3, 4e-12)
TWIN = Part("X2", "crystal", 14.2e6, 60e3, 12e-3, 4e-12)
NETWORKS = {
    "arms of every kind": Network(
        (
            Arm("shunt", (Part("C1", "capacitor", 220e-12, 500.0),)),
            Arm("series", (COIL,)),
            Arm("shunt", TANK, "in_parallel"),
            Transformer("T1", 0.6),
            Arm("series", ROW),
            Arm(
                "series",
                (Part("L4", "inductor", 0.3e-6, 80.0), Part("C4", "capacitor", 1e-10)),
                "in_parallel",
            ),
            Arm("shunt", (Part("R1", "resistor", 470.0), Part("C5", "capacitor", 330e-12))),
        ),
        50.0,
        200.0,
    ),
    "crystals": Network(
        (
            Arm("series", (CRYSTAL,)),
            Arm("shunt", (Part("C1", "capacitor", 68e-12),)),
            Arm("series", (TWIN, Part("C2", "capacitor", 180e-12))),
        ),
        180.0,
        220.0,
    ),
}
FIGURES = {"": "value", "lm": "motional_inductance_h", "c0": "holder_capacitance_f", "q": "q"}


@pytest.mark.parametrize("name", NETWORKS)
def test_they_are_what_a_small_change_makes(name):
    network = NETWORKS[name]
    f = np.linspace(14.19e6, 14.21e6, 41) if name == "crystals" else np.linspace(2e6, 40e6, 41)
    refs = [part.ref for part in network.parts]
    refs += [
        f"{part.ref}.{figure}"
        for part in network.parts
        if part.kind == "crystal"
        for figure in ("lm", "c0", "q")
    ]
    found = log_slopes(network, f, refs)
    parts = {part.ref: part for part in network.parts}
    for row, ref in zip(found, refs, strict=True):
        base, _, figure = ref.partition(".")
        value = getattr(parts[base], FIGURES[figure])
        step = 1e-9 if parts[base].kind == "crystal" and not figure else 1e-5
        below, above = (solve(network, f, values={ref: value * np.exp(side)}).s21 for side in (-step, step))
        expected = np.log(below / above) / (2 * step)
        np.testing.assert_allclose(row, expected, rtol=2e-4, atol=2e-4 * np.abs(expected).max())


def test_halves_of_a_mirror_image_count_alike():
    network = Network(
        (
            Arm("shunt", (Part("C1", "capacitor", 200e-12, 500.0),)),
            Arm("series", (COIL,)),
            Arm("shunt", (Part("C2", "capacitor", 200e-12, 500.0),)),
        ),
        50.0,
        50.0,
    )
    one, other = log_slopes(network, np.linspace(1e6, 30e6, 30), ("C1", "C2"))
    np.testing.assert_allclose(one, other, rtol=1e-12)
