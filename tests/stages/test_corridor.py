"""The corridor of nine filters in ten: of the very filters that a tolerance run tries, solved one by one."""

import numpy as np
import pytest

from core.circuits.circuit import Part
from core.circuits.ladder import Arm, Network, circuit_of
from core.circuits.slopes import log_slopes
from core.model.files import load
from core.model.samples import sample_path
from core.model.stages.filters import LowPassFilter
from core.rig.analysis import Analysis
from core.rig.paper.curves import (
    filter_response,
    scattered_delay,
    scattered_response,
    scattered_speech,
    speech_delay,
)
from core.rig.scattered import spreads
from core.stages.built import corridor as corridor_module
from core.stages.built.corridor import corridor
from core.stages.filters import low_pass
from core.stages.outcome import FilterDesign
from core.stages.tolerance import filters
from core.stages.tolerance.drawn import draw
from core.stages.tolerance.filters import BAND_PASS, LADDER
from core.stages.tolerance.judging import Spreads


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
    values = draw(design.circuit, spread, 64)
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
    full = filters.run(
        design,
        LADDER if stage == "ladder" else BAND_PASS,
        tern.dials(member.bands or ("20m",)),
        spreads(tern.project.scatter),
        trials=400,
        points=found.f_hz.size,
    )
    passed = full.nominal_db < full.nominal_db.min() + 20
    for mine, whole in ((found.low_db, full.low_db), (found.high_db, full.high_db)):
        assert np.abs(mine - whole)[passed].mean() < 0.25


def far(low, high):
    return max(low - 2.2 * (high - low), low / 4), high + 2.2 * (high - low)


@pytest.mark.parametrize("stage", ["ladder", "band_pass", "low_pass"])
@pytest.mark.parametrize("seen", [lambda *span: span, far])
def test_it_is_that_of_its_64_filters_at_every_point_drawn(tern, stage, seen):
    """Each solved exactly; to first order alone a ladder's would be off by half a decibel and more."""
    low, high = seen(*tern.filter_design(stage, "20m").span_hz)
    found = scattered_response(tern, stage, "20m", low, high)
    design, member = tern.filter_design(stage, "20m"), tern.member_on(stage, "20m")
    dials, spread = tern.dials(member.bands or ()), spreads(tern.project.scatter)
    np.testing.assert_array_equal(found.f_hz, filter_response(design, low, high).f_hz)
    values = corridor_module._tried(design, spread, dials)
    exact = np.percentile(design.response(found.f_hz, values).loss_db, [5, 95], axis=0)
    nominal = design.response(found.f_hz).loss_db
    for mine, theirs in zip((found.low_db, found.high_db), exact, strict=True):
        off = np.abs(mine - theirs)
        assert off[nominal < nominal.min() + 6].max() < 0.12
        assert off[nominal < nominal.min() + 60].max() < 0.25
    if stage == "ladder" and seen is not far:
        slopes = 20 * np.log10(np.e) * log_slopes(design.network, found.f_hz, tuple(values)).real
        first = nominal + corridor_module._moves(design, values) @ slopes
        alone = np.abs(np.percentile(first, 95, axis=0) - exact[1])
        assert alone[nominal < nominal.min() + 6].max() > 0.4


def test_group_delay_has_a_corridor_too(tern):
    """Of each filter the phase is solved at either side of a tone."""
    found = scattered_delay(tern, tern.ladder, "20m")
    design, spread = tern.filter_design("ladder", "20m"), spreads(tern.project.scatter)
    f = tern.carrier("20m").signals_hz(found.f_hz)
    values = draw(design.circuit, spread, 64)
    below, above = (design.response(f + side, values).s21 for side in (-1.0, 1.0))
    exact = -np.angle(above / below) / (4 * np.pi)
    low, high = np.percentile(exact, [5, 95], axis=0)
    assert np.abs(found.low_s - low).max() < 40e-6
    assert np.abs(found.high_s - high).max() < 40e-6
    assert (high - low).max() > 300e-6
    plain = speech_delay(tern, tern.ladder, "20m").delay_s
    assert np.mean((plain >= found.low_s) & (plain <= found.high_s)) > 0.8


def test_speech_is_heard_through_the_same_filters(tern):
    found = scattered_speech(tern, tern.ladder, "20m")
    design, spread = tern.filter_design("ladder", "20m"), spreads(tern.project.scatter)
    f = tern.carrier("20m").signals_hz(found.f_hz)
    loss = design.response(f, draw(design.circuit, spread, 64)).loss_db
    exact = np.percentile(loss, [5, 95], axis=0) - tern.ladder_solved.band.least_loss_db
    passed = exact[0] < 6
    np.testing.assert_allclose(found.low_db[passed], exact[0][passed], atol=0.15)
    np.testing.assert_allclose(found.high_db[passed], exact[1][passed], atol=0.15)


def test_where_nothing_passes_the_trials_themselves_count():
    """A lossless trap at its very resonance has no slope."""
    trap = (Part("L1", "inductor", 1e-6), Part("C1", "capacitor", 1e-10))
    network = Network((Arm("series", trap, "in_parallel"),), 50.0, 50.0)
    design = FilterDesign(network=network, parts=(), end_resistance_ohm=50.0, span_hz=(1e6, 3e7))
    at = 1 / (2 * np.pi * np.sqrt(1e-16))
    f_hz = np.linspace(at * 0.9, at * 1.1, 401)
    spread = Spreads(capacitor=0.05, coil=0.05)
    found = corridor(design, f_hz, spread, ())
    values = draw(design.circuit, spread, 64)
    low, high = np.percentile(design.response(f_hz, values).loss_db, [5, 95], axis=0)
    assert np.isfinite(found.high_db).all()
    assert f_hz[200] == pytest.approx(at)
    assert found.high_db[200] == pytest.approx(high[200], rel=1e-9)
    assert np.abs(found.low_db - low).max() < 0.5
    assert np.abs(found.high_db - high).max() < 0.5


def test_the_notch_of_a_trap_is_that_of_its_filters():
    """To first order a trap whose parts are off is deeper or shallower without end."""
    dials = ((14.0e6, 14.35e6),)
    design = low_pass.design(LowPassFilter(shape="chebyshev_trap", traps="second_and_third"), dials)
    f_hz, spread = np.linspace(0.2e6, 75e6, 601), Spreads(capacitor=0.05, coil=0.05)
    found = corridor(design, f_hz, spread, dials)
    loss = design.response(f_hz, draw(design.circuit, spread, 64)).loss_db
    low, high = np.percentile(loss, [5, 95], axis=0)
    assert np.abs(found.low_db - low).max() < 0.4
    assert np.abs(found.high_db - high).max() < 0.4


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
