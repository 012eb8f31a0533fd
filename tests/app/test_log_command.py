"""The command that prints the bench log and adds to it."""

import json

import pytest

from app.commands.command_line import main
from core.model.files import load, save
from core.rig.analysis import Analysis
from core.rig.log.expected import items
from core.rig.log.item import found


@pytest.fixture
def file(sample, tmp_path):
    file = tmp_path / "rig.json"
    save(sample, file)
    return file


def printed(capsys, *words):
    code = main(["log", *map(str, words)])
    said = capsys.readouterr()
    return code, said.out, said.err


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
    assert "no parts in the design" in reading["why"]


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
