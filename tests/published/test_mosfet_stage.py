"""A MOSFET feedback stage against ngspice 39: bias, S-parameters and noise of one circuit, same equations.

The deck is the program's own netlist of these parts, at 27 °C, load noiseless; noise figure from its input
noise as 1 + (n² − 4kT·50)/(4kT0·50).
"""

import numpy as np
import pytest

from core.circuits.active.operating import bias
from core.circuits.active.two_port import two_port
from core.circuits.circuit import SquareLaw
from core.stages.amplifiers.topologies import soldered

#: k 0.1243 A/V², Vth 3 V; Ciss 180, Crss 15, Coss 81 pF.
IRF510_CLASS = SquareLaw(
    slope_a_v2=0.12426470588235296,
    threshold_v=3.0,
    channel_per_v=0.01,
    gate_source_f=165e-12,
    gate_drain_f=15e-12,
    drain_source_f=66e-12,
)
VALUES = {
    ("coupling", 1): 100e-9,
    ("coupling", 2): 100e-9,
    ("bias_upper", None): 7500.0,
    ("bias_lower", None): 10e3,
    ("feedback", None): 270.0,
    ("feedback_block", None): 100e-9,
    ("degeneration", None): 6.2,
    ("source", None): 24.0,
    ("bypass", None): 100e-9,
    ("choke", None): 47e-6,
}
CIRCUIT = soldered("common_source", VALUES, IRF510_CLASS, (50.0, 50.0, 12.0))


def test_bias():
    found = bias(CIRCUIT)
    assert found.volts["g"] == pytest.approx(6.857143, abs=1e-6)
    assert found.volts["s"] == pytest.approx(3.000659, abs=1e-6)


def test_gain_match_and_noise():
    found = two_port(CIRCUIT, [7e6, 14e6, 21e6])
    s = found.s(50.0)
    assert 20 * np.log10(abs(s[1, 0])) == pytest.approx([11.956153752, 11.719274060, 11.318709441], abs=1e-6)
    reflected = [
        3.7080717129e-02 - 1.447453453e-01j,
        -8.825549588e-03 - 2.540609434e-01j,
        -8.009691502e-02 - 3.510984113e-01j,
    ]
    assert s[0, 0] == pytest.approx(reflected, abs=1e-8)
    noise = np.array([1.1517832424e-9, 1.1623715159e-9, 1.1796921136e-9])
    boltzmann = 1.380649e-23
    factor = 1 + (noise**2 / (4 * boltzmann * 50) - 300.15) / 290
    assert found.noise_figure_db(50.0) == pytest.approx(10 * np.log10(factor), abs=1e-5)
