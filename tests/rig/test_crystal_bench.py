"""The crystal bench: tables as builders keep them, refused rows that stay, crystals put into the rig."""

import json
from typing import get_args

import numpy as np
import pytest
import skrf

from core.circuits.ladder import solve
from core.model.bench import CrystalBatch, CrystalMethod, Sweep
from core.model.files import dumps, loads
from core.model.readings import readings_of
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.bench.batch_figures import figures, histogram
from core.rig.bench.crystal_bench import (
    COLUMNS,
    batch_of,
    with_readings,
    with_sweeps,
)
from core.rig.bench.crystal_guidance import guidance
from core.rig.bench.crystals_in_ladder import fit_in, place
from core.rig.bench.sweep_files import read_sweep, stored
from core.rig.paper.report import crystals_report, crystals_text
from core.rig.rules import inspect
from core.stages.crystals.crystal_sweep import from_sweep, transmission
from core.stages.crystals.crystals import Fixture
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.outcome import FilterDesign, Unsolved
from tests.bags import read_batch
from tests.published.test_crystals import X, sweep

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
    assert found.outliers == (("12", "fs +2930 Hz"),)
    # The peaks are 3070 Hz apart; the holder pulls that of 3, which loses more, 1.4 Hz further down.
    assert found.spread_hz == pytest.approx(3068.6, abs=0.1)
    assert figures(()) is None


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("", "empty"),
        ("label,peak\n1,9M\n", "anything in the column bandwidth; the first row must name label, peak"),
        ("\n\n", "empty"),
    ],
)
def test_a_table_that_is_none(text, hint):
    with pytest.raises(DesignError, match=hint):
        read_batch(text, "bandwidth", FIXTURE)


def test_values_may_carry_their_own_units():
    plain = read_batch("label,without,with\na,9000000,9002345\n", "series_capacitor", Fixture())
    spelled = read_batch("label,without,with\na,9 MHz,9.002345M\n", "series_capacitor", Fixture())
    assert plain == spelled


@pytest.mark.parametrize(
    ("method", "costs"),
    [
        ("bandwidth", ("Rm 11 % and Q 8.7 % wrong",)),
        ("series_capacitor", ("fs 432 Hz too high", "Lm 3.4 % wrong")),
        ("parallel_capacitor", ("0.3 pF", "Lm 7.9 % wrong")),
        ("sweep", ("Rm 11 % and Q 8.7 % wrong", "5 % in the resistances Lm 5 %")),
    ],
)
def test_the_words_on_a_method_tell_what_its_errors_cost(method, costs):
    """0.1 dB is a factor of 1.0116, so Rm of 12 ohm is read as 12 + 112 x 0.0116 = 13.3; with 0.3 of 3.5 pF
    more, r = (fp/fs)^2 − 1 makes Cm 8.6 % larger and Lm 7.9 % less.
    """
    said = guidance(method, Fixture())
    assert all(cost in said for cost in costs), said
    assert set(COLUMNS) == set(get_args(CrystalMethod))


def test_the_words_follow_the_fixture():
    assert "Rm 3.6 % and Q 2.3 % wrong" in guidance("bandwidth", Fixture(source_ohm=12.5, load_ohm=12.5))
    assert "own load" not in guidance("series_capacitor", Fixture(load_capacitance_f=220e-12))
    for method in get_args(CrystalMethod):
        for ohm, farad in ((1e9, 1e-18), (1e-3, 1.0)):
            assert guidance(
                method,
                Fixture(source_ohm=ohm, load_ohm=ohm, capacitor_f=farad, load_capacitance_f=None, c0_f=farad),
            ).endswith(".")


def test_placed_crystals_drive_the_response(tern):
    batch = read_batch(TABLE, "bandwidth", FIXTURE)
    ladder = tern.stage("ladder")
    placement = place(batch, AskedLadder(ladder, tern.if_hz))
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
    assert "as_built_unused" not in {finding.rule for finding in inspect(Analysis(rig))}


def test_too_few_good_crystals_are_a_reason(tern):
    found = place(read_batch(TABLE, "bandwidth", FIXTURE)[:6], AskedLadder(tern.stage("ladder"), tern.if_hz))
    assert isinstance(found, Unsolved)
    assert "wants 8 crystals" in found.reason


def test_the_report_has_the_names_of_the_command_line(tern):
    batch = read_batch(TABLE, "bandwidth", FIXTURE)
    data = crystals_report(batch, place(batch, AskedLadder(tern.stage("ladder"), tern.if_hz)))
    json.dumps(data, allow_nan=False)
    assert {"label", "fs_hz", "lm_h", "cm_f", "rm_ohm", "c0_f", "q", "refused"} <= set(data["crystals"][0])
    assert {"mesh", "label", "error_hz"} == set(data["placement"][0])
    text = crystals_text(data)
    assert "at random" in text


@pytest.fixture
def swept(tmp_path):
    """A table of two crystals with a Touchstone and a CSV sweep beside it."""
    f, s21 = sweep(noise_db=50)
    s = np.zeros((f.size, 2, 2), dtype=complex)
    s[:, 1, 0] = s[:, 0, 1] = s21
    skrf.Network(f=f, f_unit="Hz", s=s, z0=50).write_touchstone("x1", dir=str(tmp_path))
    rows = [f"{a:.1f};{20 * np.log10(abs(b)):.6f}".replace(".", ",") for a, b in zip(f, s21, strict=True)]
    (tmp_path / "x2.csv").write_text("\n".join(["frequency (Hz);S21 (dB)", *rows]))
    (tmp_path / "table.csv").write_text("label,file\nA,x1.s2p\nB,x2.csv\nC,none.s2p\n")
    return tmp_path


def test_sweeps_go_into_the_project_and_outlive_their_files(swept, tern):
    text = (swept / "table.csv").read_text()
    asked = tern.crystal_batch.edited(("method",), "sweep")
    batch, refused = with_sweeps(with_readings(asked, text), swept)
    assert list(refused) == ["none.s2p"]
    assert "no file" in refused["none.s2p"]
    stored = [(each.label, bool(each.s21_degrees)) for each in batch.sweeps]
    assert stored == [("x1.s2p", True), ("x2.csv", False)]
    direct = [
        from_sweep(label, *read_sweep(swept / name)[:2], Fixture(), magnitude_only=name == "x2.csv")
        for label, name in (("A", "x1.s2p"), ("B", "x2.csv"))
    ]
    project = loads(dumps(tern.edited(("crystal_batch",), batch)))
    for each in swept.glob("x*"):
        each.unlink()
    kept = batch_of(project.crystal_batch)
    for one, other in zip(direct, kept[:2], strict=True):
        assert other.parameters.lm_h == pytest.approx(one.lm_h, rel=1e-4)
        assert other.parameters.fs_hz == pytest.approx(one.fs_hz, abs=0.05)
        q, same = (dict(each.spread)["q"] for each in (one, other.parameters))
        assert same == pytest.approx(q, rel=0.01)
    assert kept[2].refused == (
        "C: the sweep none.s2p is not in this project; bring it in on the page Crystals with "
        "“Import sweeps…”."
    )
    assert batch_of(project.crystal_batch)[0].parameters is kept[0].parameters, "a fit is kept"


def test_stored_sweeps_follow_the_readings(swept, tern):
    text = (swept / "table.csv").read_text()
    batch, _ = with_sweeps(with_readings(tern.crystal_batch, text), swept)
    (swept / "x1.s2p").unlink()
    again, refused = with_sweeps(batch, swept)
    assert again.sweeps[0] == batch.sweeps[0], "what cannot be read anew stays"
    assert "x1.s2p" in refused
    assert [each.label for each in with_readings(batch, "label,file\nB,x2.csv\n").sweeps] == ["x2.csv"]
    assert with_readings(batch, "label;peak\na;9M\n").sweeps == ()


@pytest.mark.parametrize(
    "fields",
    [
        {"f_hz": (1e6, 2e6), "s21_db": (0.0,)},
        {"f_hz": (2e6, 1e6), "s21_db": (0.0, 0.0)},
        {"f_hz": (1e6, 2e6), "s21_db": (0.0, 0.0), "s21_degrees": (1.0,)},
    ],
    ids=["short", "descending", "short phase"],
)
def test_a_sweep_that_is_none_is_refused(fields):
    with pytest.raises(DesignError, match="read its file again"):
        Sweep.checked(label="x", **fields)


def test_the_confidence_of_q_is_that_of_many_noisy_sweeps():
    found = [from_sweep("X", *sweep(201, noise_db=40, seed=seed), Fixture()) for seed in range(80)]
    spread = np.std([each.q for each in found])
    assert np.mean([dict(each.spread)["q"] for each in found]) == pytest.approx(1.96 * spread, rel=0.25)


def test_a_histogram_is_not_flattened_by_an_outlier():
    batch = read_batch(TABLE, "bandwidth", FIXTURE)
    found = histogram(batch)
    assert found.counts.sum() == 9
    assert (found.below, found.above) == (0, 1)
    assert found.edges_hz[-1] - found.edges_hz[0] < 200
    assert found.counts.size >= 3
    assert histogram(batch[:1]) is None


def test_a_histogram_of_crystals_that_mostly_read_alike():
    lines = [f"{n};19.66;2890;0.9" for n in range(6)] + ["7;19.661;2890;0.9"]
    batch = read_batch("\n".join(["label;peak (MHz);bandwidth;loss", *lines]), "bandwidth", FIXTURE)
    assert histogram(batch).counts.sum() == 7


def test_crystals_of_another_frequency_are_placed_with_a_doubt(tern):
    rows = "\n".join(f"{n};9,0000{n};1115;0,98" for n in range(1, 10))
    batch = read_batch(f"label;peak (MHz);bandwidth;loss\n{rows}", "bandwidth", Fixture())
    ladder = Analysis(tern).ladder
    assert "near 9.000 MHz and the IF is 19.661 MHz" in place(batch, AskedLadder(ladder, tern.if_hz)).doubt
    assert place(batch, AskedLadder(ladder, 9e6)).doubt == (
        "The ladder is designed for other crystals (these: Lm 16 mH, not 3.9 mH): design it for these."
    )


@pytest.fixture
def at_75(tmp_path):
    """A crystal of 16 mH swept between 75 ohm, whose file says so."""
    f = np.linspace(9e6 - 6e3, 9e6 + 26e3, 401)
    s21 = transmission(X, f, Fixture(source_ohm=75.0, load_ohm=75.0))
    lines = [f"{a / 1e3:.6f} 0 0 {b.real:.9f} {b.imag:.9f} 0 0 0 0" for a, b in zip(f, s21, strict=True)]
    (tmp_path / "x.s2p").write_text("\n".join(["# kHz S RI R 75", *lines]))
    return CrystalBatch.checked(
        method="sweep",
        readings=readings_of("label,file\nA,x.s2p\n"),
        sweeps=(stored("x.s2p", tmp_path / "x.s2p"),),
    )


def test_the_resistance_that_a_touchstone_file_states_is_used(at_75):
    assert at_75.sweeps[0].reference_ohm == 75.0
    (row,) = batch_of(at_75)
    assert row.parameters.lm_h == pytest.approx(16e-3, rel=1e-4)
    assert row.parameters.rm_ohm == pytest.approx(12.0, rel=1e-3)
    assert row.parameters.doubt == "between 75 Ω, as its file states, not as typed"
    typed = at_75.edited(("source_ohm",), 75.0).edited(("load_ohm",), 75.0)
    assert batch_of(typed)[0].parameters.doubt == ""
    # A fixture with pads: what stands at the crystal is typed.
    padded = at_75.edited(("sweep_resistances",), "of_fixture")
    assert batch_of(padded)[0].parameters.lm_h == pytest.approx(16e-3 * 50 / 75, rel=1e-3)


@pytest.mark.parametrize(("zero", "rm"), [("wire", 12.0), ("available_power", 12.0)])
def test_a_sweep_between_unequal_resistances_says_what_0_db_is(zero, rm):
    fixture = Fixture(source_ohm=50.0, load_ohm=12.5, to_a_wire=zero == "wire")
    f = np.linspace(9e6 - 6e3, 9e6 + 26e3, 401)
    s21 = transmission(X, f, fixture)
    # A wire between 50 and 12.5 ohm passes 2 sqrt(50 x 12.5) / 62.5 of the available voltage, −1.94 dB.
    peak = 62.5 / (62.5 + 12) * (1.0 if zero == "wire" else 0.8)
    assert np.abs(s21).max() == pytest.approx(peak, rel=1e-3)
    swept = Sweep.checked(
        label="x",
        f_hz=tuple(f.tolist()),
        s21_db=tuple((20 * np.log10(np.abs(s21))).tolist()),
        s21_degrees=tuple(np.degrees(np.angle(s21)).tolist()),
    )
    asked = CrystalBatch.checked(
        method="sweep",
        readings=readings_of("label,file\nA,x\n"),
        sweeps=(swept,),
        source_ohm=50,
        load_ohm=12.5,
    )
    found = batch_of(asked.edited(("sweep_zero",), zero))[0].parameters
    assert (found.rm_ohm, found.lm_h) == pytest.approx((rm, 16e-3), rel=1e-4)
    other = "available_power" if zero == "wire" else "wire"
    wrong = batch_of(asked.edited(("sweep_zero",), other))[0]
    assert wrong.parameters is None or abs(wrong.parameters.rm_ohm / rm - 1) > 0.3


def test_a_given_c0_is_kept_in_the_fit_of_a_sweep():
    f, s21 = sweep(noise_db=50)
    swept = Sweep.checked(
        label="x", f_hz=tuple(f.tolist()), s21_db=tuple((20 * np.log10(np.abs(s21))).tolist())
    )
    table = "label;file;c0 (pF)\nfree;x;\ngiven;x;4,5\nwrong;x;9\n"
    free, given, wrong = read_batch(table, "sweep", Fixture(), (swept,))
    assert given.parameters.c0_f == 4.5e-12
    assert free.parameters.c0_f != 4.5e-12
    assert given.parameters.lm_h == pytest.approx(16e-3, rel=2e-3)
    spread = [dict(row.parameters.spread)["lm_h"] for row in (free, given)]
    assert spread[1] < spread[0], "what need not be found leaves the rest surer"
    assert wrong.parameters is None or wrong.parameters.c0_f == 9e-12


def test_a_c0_column_is_a_measured_c0():
    """From an assumed C0 no ratio is doubted; from a measured one it is."""
    table = "label;peak (MHz);bandwidth;loss;c0 (pF)\na;9;1115;0,98;\nb;9;1115;0,98;3,5\nc;9;1115;0,98;2\n"
    assumed, doubtful, refused = read_batch(table, "bandwidth", Fixture())
    assert not assumed.parameters.ratio_measured
    assert assumed.parameters.doubt == ""
    assert "unusually low" in doubtful.parameters.doubt
    assert "below the 159 that quartz allows" in refused.refused


def test_the_loss_at_the_peak_gives_a_q_to_fs_and_fp():
    table = "label;series (MHz);parallel (MHz);loss (dB)\na;9;9,0195238;0,9842\nb;9;9,0195238;\n"
    lossy, plain = read_batch(table, "parallel_capacitor", Fixture(c0_f=4.5e-12))
    assert lossy.parameters.rm_ohm == pytest.approx(12.0, rel=1e-3)
    assert lossy.parameters.q == pytest.approx(75398, rel=3e-3)
    assert plain.parameters.q is None


def test_c0_is_not_given_twice():
    table = "label;series;parallel;with;c0\na;9 MHz;9,0195 MHz;9,002 MHz;4,5 pF\n"
    assert read_batch(table, "parallel_capacitor", Fixture())[0].refused == (
        "a: “with” finds C0, and c0 gives it; leave one of them empty."
    )


def test_labels_tell_crystals_apart():
    table = "label;peak (MHz);bandwidth;loss\na;9;1115;0,98\na;9,0001;1115;0,98\n;9;1115;0,98\nb;9;1115\n"
    first, again, bare, short = read_batch(table, "bandwidth", Fixture())
    assert first.parameters is not None
    assert again.refused == "a: this label stands above already; give it another."
    assert bare.refused == "A crystal without a label cannot be told from others; number it."
    assert short.refused == "b: loss is empty; fill it in."
