"""The corridor of nine filters in ten: of the very filters that a tolerance run tries, solved one by one."""

import numpy as np
import pytest

from core.circuits.ladder import circuit_of
from core.model.files import load
from core.model.samples import sample_path
from core.rig.analysis import Analysis
from core.rig.paper.curves import scattered_response
from core.rig.scattered import spreads
from core.stages import tolerance
from core.stages.built.corridor import corridor


@pytest.fixture(scope="module")
def tern():
    return Analysis(load(sample_path()))


def by_nodes(design, values, row, f_hz):
    """Loss [dB] of one trial by nodal equations of our own, part by part."""
    circuit = circuit_of(design.network)
    names = {node: n for n, node in enumerate(circuit.nodes)}
    loss = []
    for f in f_hz:
        w = 2 * np.pi * f
        y = np.zeros((len(names) + 1,) * 2, dtype=complex)
        place = {**names, "0": len(names)}
        for branch in circuit.branches:
            part = branch.part
            value = float(values[part.ref][row, 0]) if part.ref in values else part.value
            if part.kind == "inductor":
                admittance = 1 / (w * value * (1j + 1 / part.q))
            else:
                admittance = w * value * (1j + (0 if part.q is None else 1 / part.q))
            a, b = (place[node] for node in branch.nodes)
            y[a, a] += admittance
            y[b, b] += admittance
            y[a, b] -= admittance
            y[b, a] -= admittance
        first, last = (place[port.node] for port in circuit.ports)
        for at, port in zip((first, last), circuit.ports, strict=True):
            y[at, at] += 1 / port.ohm
        drive = np.zeros(len(names), dtype=complex)
        drive[first] = 1 / circuit.ports[0].ohm
        volts = np.linalg.solve(y[:-1, :-1], drive)
        ratio = 4 * circuit.ports[0].ohm / circuit.ports[1].ohm
        loss.append(-10 * np.log10(ratio * abs(volts[last]) ** 2))
    return loss


def test_it_is_the_5th_and_95th_percentile_of_64_filters_solved_node_by_node(tern):
    design = tern.filter_design("low_pass", "20m")
    spread = spreads(tern.project.scatter)
    f_hz = np.array([5e6, 14.2e6, 20e6, 40e6])
    found = corridor(design, f_hz, spread, ())
    values = tolerance.draw(design.circuit, spread, 64)
    each = np.array([by_nodes(design, values, row, f_hz) for row in range(64)])
    low, high = np.percentile(each, [5, 95], axis=0)
    np.testing.assert_allclose(found.low_db, low, atol=1e-9)
    np.testing.assert_allclose(found.high_db, high, atol=1e-9)
    assert np.all(found.high_db[2:] - found.low_db[2:] > 1)


@pytest.mark.parametrize("stage", ["ladder", "band_pass"])
def test_it_is_near_that_of_the_full_run(tern, stage):
    """Trimmers are set as there: without that a band-pass is off by many times more."""
    found = scattered_response(tern, stage, "20m", *tern.filter_design(stage, "20m").span_hz)
    design, member = tern.filter_design(stage, "20m"), tern.member_on(stage, "20m")
    full = tolerance.run(
        design,
        tolerance.LADDER if stage == "ladder" else tolerance.BAND_PASS,
        tern.dials(member.bands or ("20m",)),
        spreads(tern.project.scatter),
        trials=400,
        points=found.f_hz.size,
    )
    passed = full.nominal_db < full.nominal_db.min() + 20
    for mine, whole in ((found.low_db, full.low_db), (found.high_db, full.high_db)):
        assert np.abs(mine - whole)[passed].mean() < 0.25


def test_parts_that_do_not_scatter_have_no_corridor(tern):
    exact = tern.project
    for name in ("capacitor_tolerance", "coil_tolerance"):
        exact = exact.edited(("scatter", name), 0.0)
    found = scattered_response(Analysis(exact), "low_pass", "20m", 1e6, 40e6)
    np.testing.assert_allclose(found.low_db, found.high_db, rtol=1e-12)
    loss = tern.filter_response("low_pass", "20m", found.f_hz).loss_db
    np.testing.assert_allclose(found.low_db, loss, rtol=1e-12)


def test_it_does_not_flicker(tern):
    span = tern.filter_design("band_pass", "20m").span_hz
    first = scattered_response(tern, "band_pass", "20m", *span)
    again = Analysis(tern.project.edited(("stages", "band_pass", "filters", 0, "coil_q"), 201.0))
    moved = scattered_response(again, "band_pass", "20m", *span)
    assert 0 < np.abs(moved.high_db - first.high_db).max() < 0.1, "another Q, the same trials"
