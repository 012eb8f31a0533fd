"""The crystal bench: tables as builders keep them, refused rows that stay, crystals put into the rig."""

import json

import pytest

from core.circuits.ladder import solve
from core.model.errors import DesignError
from core.rig import crystal_bench
from core.rig.analysis import Analysis
from core.rig.crystal_bench import COLUMNS, GUIDANCE, figures, fit_in, place, read_batch
from core.rig.report import crystals_report, crystals_text
from core.stages.crystals import Fixture
from core.stages.outcome import FilterDesign, Unsolved

TABLE = """label;peak (MHz);bandwidth (Hz);loss (dB)
1;19,6600012;2890;0,9
2;19,6600910;2880;0,8
3;19,6599300;2910;1,0
4;19,6600333;2890;-0,5
5;19,6600444;2890;fast
6;19,6601;2900;0,9
7;19,6600505;;1,2
8;19,6600303;2885;0,9
9;19,6600202;2895;0,9
10;19,6600700;2899;0,9
11;19,6600800;2891;0,9
12;19,6630000;2891;0,9
"""
FIXTURE = Fixture(c0_f=3.1e-12)


def test_a_table_with_decimal_commas_and_units_in_the_header():
    batch = read_batch(TABLE, "bandwidth", FIXTURE)
    assert len(batch) == 12
    assert batch[0].parameters.fs_hz == pytest.approx(19_660_001.2)
    assert batch[0].parameters.lm_h == pytest.approx(
        (100 * 10 ** (0.9 / 20)) / (2 * 3.14159265 * 2890), rel=1e-6
    )


def test_rows_that_cannot_be_stay_with_their_reason():
    refused = {
        row.label: row.refused for row in read_batch(TABLE, "bandwidth", FIXTURE) if row.parameters is None
    }
    assert set(refused) == {"4", "5", "7"}
    assert "always loses something" in refused["4"]
    assert "not a number" in refused["5"]
    assert "empty" in refused["7"]


def test_statistics_and_the_one_far_out():
    found = figures(read_batch(TABLE, "bandwidth", FIXTURE))
    assert found.count == 9
    assert found.outliers == ("12",)
    assert found.spread_hz == pytest.approx(3070, abs=1)
    assert figures(()) is None


@pytest.mark.parametrize(
    ("text", "hint"),
    [("", "empty"), ("label,peak\n1,9M\n", "lacks the column bandwidth"), ("\n\n", "empty")],
)
def test_a_table_that_is_none(text, hint):
    with pytest.raises(DesignError, match=hint):
        read_batch(text, "bandwidth", FIXTURE)


def test_values_may_carry_their_own_units():
    plain = read_batch("label,without,with\na,9000000,9002345\n", "series_capacitor", Fixture())
    spelled = read_batch("label,without,with\na,9 MHz,9.002345M\n", "series_capacitor", Fixture())
    assert plain == spelled


def test_every_method_has_columns_and_guidance():
    assert set(COLUMNS) == set(GUIDANCE)


def test_placed_crystals_drive_the_response(tern):
    batch = read_batch(TABLE, "bandwidth", FIXTURE)
    ladder = tern.stage("ladder")
    placement = place(batch, ladder, tern.if_hz)
    assert len(placement.placed) == 8
    assert "12" not in [each.label for each in placement.placed]
    rig = fit_in(tern, "ladder", batch, placement)
    design = Analysis(rig).filter_design("ladder", "20m")
    assert isinstance(design, FilterDesign)
    known = {row.label: row.parameters for row in batch}
    fitted = {part.ref: part for part in design.network.parts}
    for each in placement.placed:
        crystal, part = known[each.label], fitted[f"X{each.mesh}"]
        assert part.value == crystal.fs_hz
        assert part.motional_inductance_h == crystal.lm_h
        assert part.q == pytest.approx(crystal.q)
    f = [sum(design.span_hz) / 2]
    plain = Analysis(tern).filter_design("ladder", "20m")
    assert solve(design.network, f).loss_db != solve(plain.network, f).loss_db
    assert "as_built_unused" not in {finding.rule for finding in Analysis(rig).findings}


def test_too_few_good_crystals_are_a_reason(tern):
    found = place(read_batch(TABLE, "bandwidth", FIXTURE)[:6], tern.stage("ladder"), tern.if_hz)
    assert isinstance(found, Unsolved)
    assert "wants 8 crystals" in found.reason


def test_the_report_has_the_names_of_the_command_line(tern):
    batch = read_batch(TABLE, "bandwidth", FIXTURE)
    data = crystals_report(batch, place(batch, tern.stage("ladder"), tern.if_hz))
    json.dumps(data, allow_nan=False)
    assert {"label", "fs_hz", "lm_h", "cm_f", "rm_ohm", "c0_f", "q", "refused"} <= set(data["crystals"][0])
    assert {"mesh", "label", "error_hz"} == set(data["placement"][0])
    text = crystals_text(data)
    assert "at random" in text
    assert crystal_bench.GUIDANCE["sweep"]
