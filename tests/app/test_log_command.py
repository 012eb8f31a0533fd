"""The command that prints the bench log and adds to it."""

import json

import pytest

from core.model.files import load, save
from core.rig.analysis import Analysis
from core.rig.log.expected import items
from core.rig.log.item import found
from tests.app.saying import said
from tests.rig.test_curve_verdicts import filter_curve


@pytest.fixture
def file(sample, tmp_path):
    file = tmp_path / "rig.json"
    save(sample, file)
    return file


def printed(capsys, *words):
    return said(capsys, "log", *map(str, words))


def test_an_empty_log_says_how_to_begin(file, capsys):
    code, out, _ = printed(capsys, file)
    assert code == 0
    assert out.startswith("0 of ")
    assert "--add CODE VALUE adds a reading" in out


def test_what_is_missing_is_listed_with_its_code(file, capsys, sample):
    _, out, _ = printed(capsys, file, "--missing")
    for item in items(Analysis(sample)):
        assert (f"[{item.code}]" in out) is item.sought
    _, out, _ = printed(capsys, file, "--parts")
    assert "[low_pass/shunt:1/20m]" in out
    _, _, err = printed(capsys, file, "--add", "zzz", "1 V")
    assert "; --all lists what can be read." in err
    _, out, _ = printed(capsys, file, "--all")
    for item in items(Analysis(sample)):
        assert f"{item.title}  [{item.code}]" in out


def test_a_figure_of_the_power_amplifier_is_added_by_its_name(file, capsys):
    _, out, _ = printed(capsys, file, "--add", "power_amplifier/gain_db/20m", "12 dB")
    assert "out      Power amplifier: gain (20 m): 12.0 dB (15.8 dB ±1 dB expected)" in out
    assert "No single part of Power amplifier explains this" in out or "would explain it" in out


def test_readings_are_added_and_judged(file, capsys):
    code, out, _ = printed(
        capsys,
        file,
        "--add",
        "supply/rail",
        "13.6 V",
        "--add",
        "vfo/output",
        "-9 dBm",
        "--note",
        "with the new buffer",
        "--date",
        "2026-11-26 18:40",
    )
    assert code == 0
    assert (
        "within   Supply: supply: 13.6 V (13.8 V ±1.4 V expected), 2026-11-26 18:40; with the new buffer"
        in out
    )
    assert "out      VFO: output: −9.0 dBm" in out
    kept = load(file)
    assert [(each.key, each.value, each.unit) for each in kept.log] == [
        ("rail", 13.6, "V"),
        ("output", -9.0, "dBm"),
    ]
    assert file.with_name("rig.json.bak").exists()
    code, _, _ = printed(capsys, file, "--strict")
    assert code == 1


def test_causes_are_printed(file, capsys, sample):
    item = found(items(Analysis(sample)), "if_amplifier_1/gain_db")
    _, out, _ = printed(capsys, file, "--add", item.code, f"{item.value - 2} dB")
    assert "One of these alone would explain it:" in out
    assert " instead of " in out


def test_the_same_as_json(file, capsys):
    printed(capsys, file, "--add", "supply/rail", "9 V", "--plus-minus", "5 %")
    _, out, _ = printed(capsys, file, "--json")
    data = json.loads(out)
    assert data["progress"]["out"] == 1
    (reading,) = data["readings"]
    assert (reading["code"], reading["read"], reading["verdict"]) == ("supply/rail", 9.0, "out")
    assert reading["plus_minus"] == pytest.approx(0.45)
    assert "It is the supply itself" in reading["why"]


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (("--add", "supply/rial", "13 V"), "did you mean supply/rail"),
        (("--add", "supply/rail", "much"), "“much” is not a number"),
        (("--add", "supply/rail"), "“copperclad log --help” tells what can be said."),
        (("--note", "x"), "name it with --add CODE VALUE."),
        (("--add", "supply/rail", "13 V", "--plus-minus", "-1 V"), "leave the sign out."),
    ],
)
def test_what_cannot_be_added_is_one_sentence_and_changes_nothing(file, capsys, words, reason):
    before = file.read_bytes()
    code, out, err = printed(capsys, file, *words)
    assert code == 2
    assert out == ""
    assert err.startswith("copperclad: ")
    assert reason in err
    assert file.read_bytes() == before


def csv_of_the_low_pass(folder, sample, **shares):
    curve = filter_curve(Analysis(sample), **shares)
    file = folder / "swept.csv"
    rows = [
        f"{f / 1e6:.6f};{db:.4f}".replace(".", ",") for f, db in zip(curve.f_hz, curve.s21_db, strict=True)
    ]
    file.write_text("\n".join(["frequency (MHz);S21 (dB)", *rows]), encoding="utf-8-sig")
    return file


def test_a_sweep_is_added_judged_and_explained(file, capsys, sample, tmp_path):
    swept = csv_of_the_low_pass(tmp_path, sample, L2=-0.25)
    code, out, _ = printed(
        capsys, file, "--curve", "low_pass/20m", swept, "--date", "2026-11-26", "--note", "loose turns"
    )
    assert code == 0
    assert "out      Low-pass: measured curve, 20 m, 2026-11-26: upper edge (−6 dB) at " in out
    assert "L2 is about 25 % low; " in out
    (kept,) = load(file).measured
    assert (kept.band, kept.note, kept.label) == ("20m", "loose turns", "swept.csv")
    assert printed(capsys, file, "--strict")[0] == 1


@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize(
    "table",
    [
        "code;reading;note\nsupply/rail;13,6 V;bench supply\n\nvfo/output;;\n"
        "ladder/bandwidth_6db_hz/20m;2,4 kHz;\n",
        'Code,Reading (),Note\r\nsupply/rail,"13,6 V",bench supply\r\nladder/bandwidth_6db_hz/20m,2.4k,\r\n',
        "code\treading\tnote\nsupply/rail\t13.6 V\tbench supply\nladder/bandwidth_6db_hz/20m\t2400 Hz\t",
    ],
)
def test_a_table_of_readings_is_read_however_it_was_written(file, capsys, tmp_path, table, mark):
    (tmp_path / "readings.csv").write_text(mark + table, encoding="utf-8")
    code, _, err = printed(capsys, file, "--from", tmp_path / "readings.csv", "--date", "today")
    assert (code, err) == (0, "")
    assert [(each.key, each.value, each.unit, each.note, each.date) for each in load(file).log] == [
        ("rail", 13.6, "V", "bench supply", "today"),
        ("bandwidth_6db_hz", 2400.0, "Hz", "", "today"),
    ]


@pytest.mark.parametrize(
    ("table", "reason"),
    [
        ("code;volts\nsupply/rail;13", "readings.csv: The table lacks the column reading"),
        ("code;reading\nsupply/rail;13 V\nsupply/rial;13 V", "Line 3: There is nothing called"),
        ("code,reading\nsupply/rail,13,6 V", "Line 2: There are more cells than columns"),
        ("code;reading\nsupply/rail;much", "Line 2: “much” is not a number"),
        ("", "The table is empty"),
    ],
)
def test_a_table_that_is_none_is_refused_with_line_and_reason(file, capsys, tmp_path, table, reason):
    before = file.read_bytes()
    (tmp_path / "readings.csv").write_text(table)
    code, _, err = printed(capsys, file, "--from", tmp_path / "readings.csv")
    assert code == 2
    assert reason in err
    assert file.read_bytes() == before


@pytest.mark.parametrize(
    ("code", "reason"),
    [
        ("low_pas/20m", "There is no low_pas/20m to have a curve of; write one of low_pass"),
        ("low_pass", "has a filter for each band; write low_pass/20m"),
        ("low_pass/20m/40m", "There is no low_pass/20m/40m"),
    ],
)
def test_a_sweep_of_nothing_is_refused(file, capsys, sample, tmp_path, code, reason):
    swept = csv_of_the_low_pass(tmp_path, sample)
    found, _, err = printed(capsys, file, "--curve", code, swept)
    assert found == 2
    assert reason in err
    assert load(file).measured == ()
