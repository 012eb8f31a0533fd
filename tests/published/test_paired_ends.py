"""The ladder with two parallel crystals at each end: common practice (quasi-equiripple), no source.

The response is checked against scikit-rf and against a plain search that knows nothing of the recursion.
"""

import numpy as np
import pytest
from PySide6.QtCore import QByteArray
from PySide6.QtSvg import QSvgRenderer

from app.sheet.schematic import schematic_svg
from core.circuits.ladder import Arm, Network, Part, solve
from core.circuits.shapes.paired_ends import loss_db, paired_ends
from core.model.stages.filters import Crystal, LadderFilter
from core.rig.bench.crystals_in_ladder import fit_in, place
from core.stages.crystals import crystal_choice
from core.stages.crystals.crystals import Fixture
from core.stages.filters import ladder_filter
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.outcome import FilterDesign, Unsolved
from core.stages.tolerance.filters import LADDER, run
from core.stages.tolerance.judging import Spreads
from tests.bags import read_batch
from tests.published.reference import scattering
from tests.published.test_crystals import bag

FS = 9e6


def asked(poles=8, **changes) -> LadderFilter:
    crystal = Crystal(motional_inductance_h=14.7e-3, quality_factor=1e8)
    fields = {
        "crystal": crystal,
        "capacitors": "exact",
        "end_match": "none",
        "shape": "paired_ends",
        **changes,
    }
    ladder = LadderFilter(id="ladder", name="Ladder", poles=poles, **fields)
    made = ladder_filter.design(AskedLadder(ladder, FS))
    assert isinstance(made, FilterDesign)
    return ladder.edited(("system_ohm",), made.end_resistance_ohm)


@pytest.mark.parametrize("order", [4, 6, 9, 12])
def test_the_recursion_is_the_determinant_of_the_meshes(order):
    x, r = np.linspace(-2, 2, 41), np.array([0.6, 1.1])
    z = np.zeros((2, x.size, order, order), dtype=complex)
    for mesh in range(order):
        end = mesh in (0, order - 1)
        z[:, :, mesh, mesh] = 1j * x * (0.5 if end else 1.0) + (r[:, None] if end else 0.0)
        if mesh:
            z[:, :, mesh, mesh - 1] = z[:, :, mesh - 1, mesh] = 1j
    last = np.linalg.inv(z)[:, :, order - 1, 0]
    np.testing.assert_allclose(loss_db(order, r, x), -20 * np.log10(2 * r[:, None] * np.abs(last)), atol=1e-9)


@pytest.mark.parametrize("order", range(4, 13))
def test_no_other_end_resistance_has_less_ripple(order):
    k, q, ripple = paired_ends(order)
    assert ripple < 0.75
    # Its edge, by a straight line between points of the grid, is where half the power is lost.
    x = np.linspace(0, 1 / k, 20001)
    (loss,) = loss_db(order, np.array([1 / (k * q)]), x)
    assert loss[-1] - loss.min() == pytest.approx(10 * np.log10(2), abs=5e-3)
    best = q * k
    for factor in (0.9, 0.95, 1.05, 1.1):
        x = np.linspace(0, 2.4, 4801)
        loss = loss_db(order, np.array([factor / best]), x)[0]
        loss -= loss.min()
        edge = x[np.flatnonzero(loss <= 3.0103)[-1]]
        assert loss[x <= 0.9 * edge].max() > ripple - 2e-3


@pytest.mark.parametrize("poles", [4, 5, 6, 8, 10, 12])
def test_width_and_ripple_come_out_as_designed(poles):
    found = ladder_filter.figures(AskedLadder(asked(poles), FS))
    assert found.bandwidth_3db_hz == pytest.approx(2400, rel=0.005)
    assert found.ripple_db < paired_ends(poles)[2] + 0.02


def test_every_capacitor_is_one_value_and_none_is_in_series():
    for capacitors in ("exact", "E12"):
        made = ladder_filter.design(AskedLadder(asked(capacitors=capacitors), FS))
        rows = [row for row in made.parts if row.kind == "capacitor"]
        assert [row.ref for row in rows] == [f"C{n}" for n in range(1, 8)]
        assert len({row.fitted for row in rows}) == 1


def test_far_less_ripple_than_with_single_crystals_and_one_capacitor_value():
    single = ladder_filter.figures(AskedLadder(asked(shape="equal_coupling"), FS))
    paired = ladder_filter.figures(AskedLadder(asked(), FS))
    assert paired.ripple_db < 0.35 < 1.0 < single.ripple_db


def test_the_response_is_scikit_rfs():
    made = ladder_filter.design(
        AskedLadder(asked(crystal=Crystal(), end_match="transformer", capacitors="E24"), FS)
    )
    f = np.linspace(*made.span_hz, 201)
    ours, theirs = solve(made.network, f), scattering(made.network, f)
    np.testing.assert_allclose(ours.s21, theirs[:, 1, 0], atol=1e-9)
    np.testing.assert_allclose(ours.s11, theirs[:, 0, 0], atol=1e-9)


def test_two_lossless_crystals_in_parallel_pass_all_at_their_resonance():
    pair = tuple(Part(ref, "crystal", FS, None, 16e-3, 4e-12) for ref in ("A", "B"))
    response = solve(Network((Arm("series", pair, "in_parallel"),), 50.0, 50.0), [FS, FS + 100])
    assert response.loss_db[0] == pytest.approx(0, abs=1e-9)
    alone = solve(
        Network((Arm("series", (Part("A", "crystal", FS, None, 8e-3, 8e-12),)),), 50.0, 50.0), [FS + 100]
    )
    assert response.s21[1] == pytest.approx(alone.s21[0], rel=1e-9)


def test_fewer_than_four_poles_are_a_sentence():
    made = ladder_filter.design(AskedLadder(LadderFilter(id="l", name="L", shape="paired_ends", poles=3), FS))
    assert isinstance(made, Unsolved)
    assert "4 poles" in made.reason


def test_ten_crystals_are_placed_in_eight_meshes_and_drive_the_response(tern):
    rig = tern.edited(("stages", "ladder", "shape"), "paired_ends")
    ladder = rig.stage("ladder")
    wanted = ladder_filter.mesh_reactances(AskedLadder(ladder, rig.if_hz))
    assert len(wanted) == 10
    assert wanted[0] == pytest.approx(wanted[4], rel=0.02), "the very tuning that a single crystal meets"
    lines = [f"{n};{19.6605 + 2e-5 * (n * 7 % 16)};2890;0.9" for n in range(16)]
    batch = read_batch(
        "\n".join(["label;peak (MHz);bandwidth (Hz);loss (dB)", *lines]), "bandwidth", Fixture()
    )
    found = place(batch, AskedLadder(ladder, rig.if_hz))
    assert [each.mesh for each in found.placed] == [1, 1, 2, 3, 4, 5, 6, 7, 8, 8]
    built = dict(fit_in(rig, "ladder", batch, found).stage("ladder").as_built)
    assert {
        "crystal:1A",
        "crystal:1B",
        "crystal:2",
        "crystal:7",
        "crystal:8A",
        "crystal:8B",
        "crystal:1A.lm",
        "crystal:8B.q",
    } <= set(built)
    assert "crystal:1" not in built
    made = ladder_filter.design(AskedLadder(fit_in(rig, "ladder", batch, found).stage("ladder"), rig.if_hz))
    assert {part.ref: part.value for part in made.network.parts}["X8B"] == built["crystal:8B"]
    assert isinstance(crystal_choice.place(bag(9), np.array(wanted), ladder.crystal_refs), Unsolved)


def test_the_tolerance_run_scatters_each_of_the_pair():
    made = ladder_filter.design(AskedLadder(asked(crystal=Crystal()), FS))
    found = run(made, LADDER, (), Spreads(), trials=60)
    assert {"X1A", "X1B", "X8A.q"} <= {ref for ref, _ in found.shares}
    assert np.isfinite(found.of("width")).all()


@pytest.mark.parametrize("poles", [4, 12])
def test_the_schematic_holds_every_part_and_no_texts_on_each_other(qapp, poles):
    svg = schematic_svg(ladder_filter.design(AskedLadder(asked(poles, end_match="transformer"), FS)).network)
    for ref in ("X1A", "X1B", f"X{poles}A", f"X{poles}B", "C1"):
        assert f">{ref}<" in svg
    assert QSvgRenderer(QByteArray(svg.encode())).isValid()
