"""The low-pass against a worked example computed by nodal analysis and scikit-rf, and stop-band facts."""

from dataclasses import replace

import numpy as np
import pytest

from core.circuits import nodal
from core.circuits.circuit import Branch, Circuit, Part
from core.circuits.ladder import circuit_of, solve
from core.model.stages.filters import LowPassFilter
from core.stages.filters import low_pass, stress

ASKED = LowPassFilter(order=5, ripple_db=0.1, cutoff_hz=15e6, coil_q=150, capacitor_q=500)
#: 13 turns on a T50-6 core (A_L 40) in place of 13.49.
BUILT = {"coil:1": 0.676e-6, "coil:2": 0.676e-6}
# MHz: ideal, ideal values with loss, rounded and wound lossless, the same with loss, its return loss.
TABLE = """
3.50 0.085 0.114 0.120 0.147 15.67
7.00 0.043 0.109 0.106 0.168 16.23
10.00 0.024 0.126 0.000 0.100 44.92
14.00 0.007 0.207 0.015 0.195 24.61
14.35 0.001 0.220 0.003 0.197 31.68
15.00 0.100 0.361 0.021 0.250 23.34
17.00 2.955 3.247 1.697 2.005 5.20
20.00 12.451 12.579 10.360 10.515 0.57
28.00 31.347 31.383 29.667 29.707 0.04
28.40 32.074 32.109 30.407 30.445 0.04
42.60 51.673 51.688 50.229 50.245 0.02
56.80 64.803 64.813 63.427 63.438 0.01
"""


def test_the_worked_parts():
    values = {p.ref: p.designed for p in low_pass.design(ASKED, ()).parts}
    assert values["C1"] == pytest.approx(243.361e-12, rel=1e-5)
    assert values["C2"] == pytest.approx(419.109e-12, rel=1e-5)
    assert values["L1"] == pytest.approx(0.72745e-6, rel=1e-5)
    rounded = {p.ref: p.preferred for p in low_pass.design(ASKED, ()).parts}
    assert (rounded["C1"], rounded["C2"]) == (240e-12, 430e-12)


@pytest.mark.parametrize(
    ("column", "series", "built", "lossy"),
    [(1, "exact", {}, False), (2, "exact", {}, True), (3, "E24", BUILT, False), (4, "E24", BUILT, True)],
)
def test_the_worked_response(column, series, built, lossy):
    table = np.array([[float(v) for v in line.split()] for line in TABLE.strip().splitlines()])
    asked = ASKED.edited(("capacitors",), series).edited(("as_built",), built)
    if not lossy:
        asked = asked.edited(("coil_q",), 1e8).edited(("capacitor_q",), 1e8)
    response = solve(low_pass.design(asked, ()).network, 1e6 * table[:, 0])
    np.testing.assert_allclose(response.loss_db, table[:, column], atol=0.005)
    if column == 4:
        np.testing.assert_allclose(response.return_loss_db, table[:, 5], atol=0.006)


def test_the_trap_kills_the_second_harmonic_and_keeps_the_band():
    dials = ((14.0e6, 14.35e6),)
    plain = LowPassFilter(order=5, coil_q=1e6, capacitor_q=1e6, capacitors="exact")
    trapped = plain.edited(("shape",), "chebyshev_trap")
    second = np.linspace(28.0e6, 28.7e6, 15)
    deep, usual = (solve(low_pass.design(each, dials).network, second).loss_db for each in (trapped, plain))
    assert deep.min() > usual.max() + 15
    in_band = solve(low_pass.design(trapped, dials).network, np.linspace(14.0e6, 14.35e6, 9)).loss_db
    assert in_band.max() < 0.2


def test_the_stress_of_a_matched_filter_at_ten_watts():
    # 10 W in 50 ohm: 31.62 V peak, 0.447 A rms (arithmetic); at low frequency coils carry it all.
    seen = {s.ref: s for s in stress.part_stress(ASKED, (), 10.0, 100e3)}
    assert seen["L1"].rms_a == pytest.approx(np.sqrt(10 / 50), rel=1e-3)
    assert seen["C3"].peak_v == pytest.approx(np.sqrt(2 * 10 * 50), rel=1e-3)
    lost = sum(s.loss_w for s in stress.part_stress(ASKED, (), 10.0, 14.2e6))
    passed = 10 * 10 ** (-solve(low_pass.design(ASKED, ()).network, [14.2e6]).loss_db[0] / 10)
    reflected = 10 * abs(solve(low_pass.design(ASKED, ()).network, [14.2e6]).s11[0]) ** 2
    assert lost == pytest.approx(10 - passed - reflected, rel=1e-6)


def test_into_a_mismatch_of_any_phase_against_the_nodal_solver():
    """Loads on a circle of 3:1 (reflection of one half), each put into the circuit as two parts."""
    asked = LowPassFilter(bands=("20m",), coil_q=120, capacitor_q=600)
    dial, power, f_hz = (14.2e6, 14.2e6), 20.0, 14.2e6
    found = {each.ref: each for each in stress.worst_stress(asked, (dial,), power)}
    network, w = low_pass.design(asked, (dial,)).network, 2 * np.pi * f_hz
    worst = dict.fromkeys(found, 0.0)
    # The same phases as are tried, without their ends on the axis, where the load is a resistance.
    for turn in np.exp(2j * np.pi * np.arange(24) / 24) / 2:
        admittance = (1 - turn) / (1 + turn) / 50
        circuit = circuit_of(replace(network, load_ohm=1 / admittance.real))
        out = circuit.ports[-1].node
        if abs(admittance.imag) > 1e-9:
            across = admittance.imag / w if admittance.imag > 0 else -1 / (w * admittance.imag)
            kind = "capacitor" if admittance.imag > 0 else "inductor"
            circuit = Circuit(
                (*circuit.branches, Branch(Part("load", kind, across), (out, "0"))), circuit.ports
            )
        solved = nodal.solve(circuit, [f_hz])
        for branch in circuit.branches:
            if branch.part.ref in worst:
                near, far = (solved.at(node)[0] if node != "0" else 0.0 for node in branch.nodes)
                volts = np.sqrt(8 * power * 50) * abs(near - far)
                worst[branch.part.ref] = max(worst[branch.part.ref], volts)
    for ref, volts in worst.items():
        assert found[ref].mismatched_v == pytest.approx(volts, rel=1e-6)
        # Arithmetic: never less than matched, and with a matched source no more than half as much again
        # behind a lossless filter; what resonates in the filter adds to it.
        assert found[ref].peak_v < found[ref].mismatched_v < 2 * found[ref].peak_v


def test_the_capacitors_that_stand_it():
    """Common practice, no source: C0G for a few watts, mica in parallel for a hundred."""
    dial = ((14.0e6, 14.35e6),)
    small = {each.ref: each for each in stress.worst_stress(LowPassFilter(), dial, 5.0)}
    assert small["C1"].stands_it == "C0G, 50 V"
    assert small["L1"].stands_it is None
    large = {each.ref: each for each in stress.worst_stress(LowPassFilter(), dial, 100.0)}
    assert large["C2"].stands_it.endswith("silver mica in parallel, 500 V")
    assert "transmitting mica" in stress.worst_stress(LowPassFilter(), dial, 3000.0)[0].stands_it
