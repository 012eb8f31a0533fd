"""Measured curves in a project: read from files, kept with their filter, told in report and sheet."""

import json

import numpy as np
import pytest
import skrf

from core.model.files import dumps, load, loads
from core.model.measured import MOST_POINTS, MeasuredCurve
from core.model.samples import sample_path
from core.model.values.errors import DesignError, FileError
from core.rig.analysis import Analysis
from core.rig.bench.curve_files import read_curve
from core.rig.built import measured
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.report import as_text, report
from tests.published.reference import scattering
from tests.published.test_measured_curves import otherwise, value_of


@pytest.fixture(scope="module")
def tern():
    return Analysis(load(sample_path()))


def curve(tern, stage="low_pass", band="20m", off=0.94, **fields):
    """A curve of the filter with its L2 off by a factor, by scikit-rf and without noise."""
    design = tern.filter_design(stage, band)
    f = np.linspace(*design.span_hz, 201)
    s = scattering(otherwise(design.network, {"L2": off * value_of(design, "L2")}), f)
    db = np.round(20 * np.log10(np.abs(s[:, 1, 0])), 3)
    made = {"stage": stage, "band": band, "label": "swept.csv", "f_hz": f.tolist(), "s21_db": db.tolist()}
    return MeasuredCurve.checked(**(made | fields))


def written(folder, name, rows, head="frequency (MHz);S21 (dB)"):
    file = folder / name
    file.write_text("\n".join([head, *(f"{f / 1e6:.6f};{db:.4f}" for f, db in rows)]))
    return file


def test_a_csv_is_read_and_stays_when_the_file_is_gone(tern, tmp_path):
    swept = curve(tern)
    file = written(tmp_path, "low.csv", zip(swept.f_hz, swept.s21_db, strict=True))
    read = read_curve(file, "low_pass", "20m")
    assert read.label == "low.csv"
    assert read.source_ohm is None
    np.testing.assert_allclose(read.s21_db, swept.s21_db, atol=1e-4)
    project = measured.with_curve(tern, read)
    file.unlink()
    again = Analysis(loads(dumps(project)))
    assert measured.curve_of(again, "low_pass", "20m") == read
    assert measured.told(again, "low_pass", "20m").startswith("L2 is about 6 % low; ")


def test_a_touchstone_brings_s11_and_its_ports(tern, tmp_path):
    design = tern.filter_design("band_pass", "20m")
    f = np.linspace(*design.span_hz, 2 * MOST_POINTS)
    s = scattering(design.network, f)
    skrf.Network(f=f, f_unit="Hz", s=s, z0=50).write_touchstone("bp", dir=str(tmp_path))
    read = read_curve(tmp_path / "bp.s2p", "band_pass", "20m")
    assert (read.source_ohm, read.load_ohm) == (50.0, 50.0)
    assert len(read.f_hz) == MOST_POINTS, "thinned out evenly"
    np.testing.assert_allclose(np.array(read.f_hz)[[0, -1]], f[[0, -1]])
    back = 10 ** (np.array(read.s11_db) / 20) * np.exp(1j * np.radians(read.s11_degrees))
    expected = scattering(design.network, np.array(read.f_hz))[:, 0, 0]
    np.testing.assert_allclose(back, expected, atol=1e-4)
    told = measured.told(Analysis(measured.with_curve(tern, read)), "band_pass", "20m")
    assert told.startswith("No part is off")


@pytest.mark.parametrize(
    ("head", "rows", "reason"),
    [
        ("time;S21 (dB)", [(14e6, -3.0)] * 3, "frequency"),
        ("frequency (MHz);S21 (dB)", [(14e6, -3.0)], "has 1 points"),
        ("frequency (MHz);S21 (dB)", [(14e6, 80.0), (15e6, 80.0)], "check that it is in dB"),
        ("frequency (MHz);S21 (dB)", [(14e12, -3.0), (15e12, -3.0)], "low.csv: "),
    ],
)
def test_what_is_no_curve_is_refused_in_one_sentence(tmp_path, head, rows, reason):
    with pytest.raises(FileError) as refused:
        read_curve(written(tmp_path, "low.csv", rows, head), "low_pass", "20m")
    assert reason in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_curve_is_replaced_by_the_next_of_its_filter_only(tern):
    one = Analysis(measured.with_curve(tern, curve(tern)))
    other = Analysis(measured.with_curve(one, curve(tern, band="12m")))
    again = Analysis(measured.with_curve(other, curve(tern, label="second.csv")))
    assert [(each.band, each.label) for each in again.project.measured] == [
        ("12m", "swept.csv"),
        ("20m", "second.csv"),
    ]
    assert measured.without_curve(again, "low_pass", "12m").measured == again.project.measured[1:]


def test_a_curve_goes_with_its_stage_and_its_band(tern):
    project = measured.with_curve(tern, curve(tern))
    assert project.stage_removed("low_pass").measured == ()
    assert project.stage_removed("ladder").measured == project.measured
    renamed = project.edited(("bands", 0, "name"), "22m")
    assert [each.band for each in renamed.measured] == ["22m"]
    assert measured.told(Analysis(renamed), "low_pass", "22m").startswith("L2 is about 6 % low; ")
    assert project.band_removed("20m").measured == ()
    assert project.band_removed("12m").measured == project.measured


def test_an_older_file_without_curves_has_none(tern):
    data = json.loads(dumps(tern.project))
    assert data.pop("measured") == []
    assert loads(json.dumps(data)).measured == ()


def test_taken_as_built_the_filter_is_the_measured_one(tern):
    swept = Analysis(measured.with_curve(tern, curve(tern)))
    built = Analysis(measured.with_fitted(swept, "low_pass", "20m"))
    values = dict(built.project.stage("low_pass").filters[0].as_built)
    nominal = value_of(tern.filter_design("low_pass", "20m"), "L2")
    assert values["coil:2"] == pytest.approx(0.94 * nominal, rel=2e-3)
    # The others are soldered as they are: nothing is designed around the one that is off.
    now = {part.ref: part.value for part in tern.filter_design("low_pass", "20m").network.parts}
    then = {part.ref: part.value for part in built.filter_design("low_pass", "20m").network.parts}
    assert {ref: value for ref, value in then.items() if ref != "L2"} == pytest.approx(
        {ref: value for ref, value in now.items() if ref != "L2"}, rel=1e-3
    )
    at = measured.curve_of(built, "low_pass", "20m")
    loss = built.filter_response("low_pass", "20m", np.array(at.f_hz)).loss_db
    near = np.array(at.s21_db) > -40
    assert np.abs(loss + np.array(at.s21_db))[near].max() < 0.1
    assert measured.told(built, "low_pass", "20m").startswith("No part is off")
    with pytest.raises(DesignError, match="read one first"):
        measured.with_fitted(tern, "low_pass", "20m")


def test_report_and_sheet_tell_it(tern):
    swept = Analysis(measured.with_curve(tern, curve(tern)))
    (row,) = report(swept)["measured"]
    assert row["stage"] == "low_pass"
    assert row["bands"] == ["20m"]
    assert row["told"].startswith("L2 is about 6 % low; ")
    assert row["miss_db"] < 0.01 < 0.3 < row["miss_before_db"]
    assert row["told"] in as_text(report(swept))
    assert report(tern)["measured"] == []
    sections = [each for each in build_sheet(swept).filters if each.title.startswith("Low-pass")]
    told = [dict(each.figures).get("measured against designed") for each in sections]
    assert told == [row["told"], None]


def test_curves_that_are_none_are_told_by_the_model(tern):
    for wrong in ({"f_hz": [2e6, 1e6], "s21_db": [0, 0]}, {"s21_db": [0.0]}, {"s11_db": [0.0] * 201}):
        with pytest.raises(DesignError, match="read its file again"):
            curve(tern, **wrong)
