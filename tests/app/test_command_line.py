"""The command line: what it prints, what it writes, and one sentence for everything that cannot be."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from app.commands import start_up
from app.commands.command_line import main
from core.model.files import load, save
from core.rig.analysis import Analysis
from tests.app.saying import MUDDLE, TERN, refused, said

TOP = Path(__file__).parents[2]


def test_the_report_is_json_with_the_analysis_figures(capsys, sample):
    code, out, err = said(capsys, "report", TERN, "--json")
    data = json.loads(out)
    assert (code, err) == (0, "")
    plan = Analysis(sample).band_plan("20m")
    assert data["frequency_plan"][0]["vfo_low_hz"] == plan.vfo_low_hz
    assert data["levels"]["receive"][1]["noise_figure_db"] == Analysis(sample).receive("12m").noise_figure_db


def test_the_report_as_text_has_units(capsys):
    _, out, _ = said(capsys, "report", TERN)
    assert "14.1000 to 14.3500 MHz" in out
    assert "FINDINGS" in out


def test_strict_tells_faults_by_the_exit_code(capsys):
    assert said(capsys, "report", TERN, "--strict")[0] == 0
    assert said(capsys, "report", MUDDLE, "--strict")[0] == 1
    assert said(capsys, "report", MUDDLE)[0] == 0


def test_the_survey_puts_the_best_first(capsys):
    code, out, _ = said(capsys, "survey", "--bands", "20m", "12m", "--max-vfo", "8MHz", "--json")
    rows = json.loads(out)
    assert code == 0
    assert all(row["vfo_high_hz"] <= 8e6 for row in rows)
    assert {"if_hz", "crystal", "schemes", "vfo_ratio", "lowest_crossing_order", "crossings"} <= set(rows[0])
    assert 19.6608e6 in [row["if_hz"] for row in rows[:3]]


def test_a_new_rig_of_bands_that_make_none_says_so_beforehand(capsys, tmp_path):
    file = tmp_path / "rig.json"
    code, out, _ = said(capsys, "new", "--bands", "15m", "10m", "-o", str(file))
    assert code == 0
    assert out.startswith("Nothing here to recommend: ")
    code, out, _ = said(capsys, "survey", "--bands", "15m", "10m")
    assert out.startswith("Nothing here to recommend: ")
    assert "Nothing here" not in said(capsys, "survey", "--bands", "20m", "12m")[1]


def test_a_band_of_ones_own_takes_any_name_with_edges(capsys, tmp_path):
    file = tmp_path / "rig.json"
    assert said(capsys, "new", "--bands", "6m:50.1MHz-50.5MHz", "-o", str(file))[0] == 0
    band = load(file).bands[0]
    assert (band.name, band.low_hz, band.high_hz, band.sideband) == ("6m", 50.1e6, 50.5e6, "upper")
    assert said(capsys, "survey", "--bands", "tropical:4.8MHz-4.9MHz")[0] == 0
    code, _, error = said(capsys, "survey", "--bands", "6m")
    assert code == 2
    assert "6m:50.1MHz-50.5MHz" in error


def test_a_new_rig_opens_and_computes(capsys, tmp_path):
    file = tmp_path / "rig.json"
    assert said(capsys, "new", "--bands", "17m", "12m", "--crystal", "21.47727MHz", "-o", str(file))[0] == 0
    rig = load(file)
    assert rig.if_hz == 21.47727e6
    assert [band.scheme for band in rig.bands] == ["if_minus_vfo", "sum"]
    # The gain is set in half decibels for the weaker band.
    strong, weak = (Analysis(rig).transmit(band).output_w for band in ("17m", "12m"))
    assert weak == pytest.approx(5, rel=0.12)
    assert weak < strong < 1.3 * weak


def test_the_schema_describes_the_project(capsys):
    _, out, _ = said(capsys, "schema")
    schema = json.loads(out)
    assert schema["properties"]["if_hz"]["unit"] == "Hz"


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (("report", "nowhere.json"), "no file"),
        (("report",), "required"),
        (("survey", "--bands", "99m"), "no band 99m"),
        (("survey", "--bands", "20m", "20m"), "twice"),
        (("survey", "--bands", "20m", "--order", "99"), "order"),
        (("survey", "--bands", "20m", "--max-vfo", "fast"), "fast"),
        (("new", "--bands", "20m", "--crystal", "14.2MHz", "-o", "x.json"), "another crystal"),
        (("response", TERN, "mixer", "-o", "x.s2p"), "not a filter"),
        (("response", TERN, "nothing", "-o", "x.s2p"), "no stage nothing"),
        (("response", TERN, "ladder", "-o", "x.txt"), ".s2p or .csv"),
        (("response", TERN, "ladder", "--band", "6m", "-o", "x.s2p"), "no band 6m"),
        (("response", TERN, "ladder", "--points", "1", "-o", "x.s2p"), "points"),
        (("sheet", TERN, "-o", "/nonexistent/folder/x.pdf"), "could not be written"),
        (("sheet", TERN, "--paper", "A9", "-o", "x.pdf"), "A9"),
    ],
)
def test_bad_input_is_one_sentence(capsys, qapp, words, hint):
    assert hint in refused(capsys, *words)


def test_help_is_help(capsys):
    with pytest.raises(SystemExit) as leaving:
        main(["report", "--help"])
    assert leaving.value.code == 0


def run(*words: str) -> subprocess.CompletedProcess:
    without = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    bare = {name: value for name, value in os.environ.items() if name not in without}
    return subprocess.run(
        [sys.executable, "-m", "app", *words], capture_output=True, text=True, env=bare, cwd=TOP
    )


def test_without_a_display_the_window_says_so_in_one_sentence():
    if sys.platform.startswith("linux"):
        done = run()
        assert done.returncode == 2
        assert done.stderr.count("\n") == 1
        assert "copperclad sheet PROJECT -o FILE.pdf" in done.stderr
    assert "copperclad sheet PROJECT" in start_up.problem_with_display({}, "linux", lambda _: None)


def test_sheet_and_screens_need_no_display(tern, tmp_path):
    # One filter and one band: what is shown of the others takes long and is looked at elsewhere.
    rig = tern.band_removed("12m").with_stages((tern.stage("ladder"),))
    save(rig, file := tmp_path / "rig.json")
    done = run("sheet", str(file), "-o", str(tmp_path / "sheet.pdf"))
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    done = run("screens", str(file), str(tmp_path / "screens"))
    assert (done.returncode, done.stderr) == (0, "")
    names = {file.name for file in (tmp_path / "screens").glob("*.png")}
    assert {"whole-rig-receive-light.png", "stage-ladder-dark.png", "build-sheet-light.png"} <= names


def test_a_closed_pipe_is_no_error():
    line = f"{sys.executable} -m app report {TERN} | head -1"
    done = subprocess.run(line, shell=True, capture_output=True, text=True, cwd=TOP)
    assert done.stderr == ""


def test_a_missing_library_is_named_with_its_package():
    def loads(name: str) -> None:
        if "cursor" in name:
            raise OSError(name)

    problem = start_up.problem_with_display({"DISPLAY": ":0"}, "linux", loads, lambda *_: True)
    assert "install libxcb-cursor0" in problem
    assert start_up.problem_with_display({"WAYLAND_DISPLAY": "w"}, "linux", loads, lambda *_: True) is None
    assert start_up.problem_with_display({}, "win32", loads) is None


@pytest.mark.parametrize("words", [("report", TERN), ("survey", "--bands", "20m"), ("schema",)])
def test_the_computing_commands_load_no_qt(words):
    script = (
        "import sys; from app.commands.command_line import main; "
        "main(sys.argv[1:]); sys.exit('PySide6' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", script, *words], capture_output=True, text=True, cwd=TOP)
    assert done.returncode == 0, done.stderr


def test_vfo_solves_and_writes_the_parts(capsys, tmp_path):
    file = tmp_path / "solved.json"
    code, out, _ = said(capsys, "vfo", TERN, "--solve", "-o", str(file))
    assert code == 0
    assert "fixed: tuning capacitor 10 pF to 100 pF; coil" in out
    assert "found: padder" in out
    solved = load(file)
    built = dict(solved.vfo.tank.as_built)
    made = Analysis(load(TERN)).tank
    assert built == pytest.approx({row.key: row.fitted for row in made.parts})
    assert all(cover.covers for cover in Analysis(solved).tank.ranges)


def test_vfo_without_a_tank_is_told_and_gets_one(capsys, tmp_path):
    bare = tmp_path / "bare.json"
    save(load(TERN).edited(("vfo", "tank"), None), bare)
    assert "has no tank yet" in refused(capsys, "vfo", str(bare))
    assert said(capsys, "vfo", str(bare), "--solve", "-o", str(tmp_path / "with.json"))[0] == 0
    assert load(tmp_path / "with.json").vfo.tank is not None
    assert "--solve" in refused(capsys, "vfo", str(bare), "-o", str(tmp_path / "no.json"))


def test_the_report_has_vfo_and_read_out_rows(capsys):
    data = json.loads(said(capsys, "report", TERN, "--json")[1])
    keys = "band wanted_low_hz wanted_high_hz covers_low_hz covers_high_hz worst_hz_per_turn start_margin"
    keys += " drift_hz_per_degree"
    assert [row["band"] for row in data["vfo"]] == ["20m", "12m"]
    for row in data["vfo"]:
        assert set(keys.split()) <= set(row)
        assert len(row["drift_hz_per_degree"]) == 2
        assert row["covers_low_hz"] < row["wanted_low_hz"] < row["wanted_high_hz"] < row["covers_high_hz"]
    keys = "band scheme offset_hz direction helper_hz shows_low_hz shows_high_hz refused"
    for row in data["read_out"]:
        assert set(keys.split()) <= set(row)
        assert row["refused"]
        assert {"scheme", "reason"} == set(row["refused"][0])
    assert data["read_out"][1]["helper_hz"] is None


@pytest.mark.parametrize(
    "words",
    [
        ("--bands", "20m", "--crystal", "300MHz"),
        ("--bands", "20m", "--crystal", "1Hz"),
        ("--bands", "80m", "--crystal", "30kHz"),
        ("--bands", "20m", "--crystal", "2GHz"),
        ("--bands", "20m:1Hz-2Hz"),
        ("--bands", "20m:9kHz-11kHz"),
        ("--bands", "20m:10kHz-11kHz"),
        ("--bands", "20m:5GHz-6GHz"),
    ],
)
def test_a_new_rig_far_from_any_is_made_or_refused_in_a_sentence(capsys, tmp_path, words):
    file = tmp_path / "new.json"
    code, _, err = said(capsys, "new", *words, "-o", str(file))
    if code == 0:
        assert load(file).bands
    else:
        assert code == 2
        assert err.count("\n") == 1
        assert not file.exists()


@pytest.mark.parametrize(
    ("environment", "words"),
    [
        ({"DISPLAY": ":4711"}, "The display :4711 does not answer; start the program on your desktop"),
        ({"WAYLAND_DISPLAY": "nowhere-0"}, "The display nowhere-0 does not answer"),
        ({"DISPLAY": ":4711", "QT_QPA_PLATFORM": "fax"}, "Qt has no window system “fax” here; unset"),
        (
            {"QT_QPA_PLATFORM": "xcb"},
            "There is no display to open a window on; write the build sheet instead",
        ),
    ],
    ids=["no server", "no compositor", "unknown platform", "no display"],
)
def test_a_display_that_cannot_be_had_is_one_sentence(environment, words, tmp_path):
    kept = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
    kept.pop("QT_QPA_PLATFORM", None)
    kept["XDG_RUNTIME_DIR"] = str(tmp_path)
    done = subprocess.run(
        [sys.executable, "-m", "app"], env=kept | environment, capture_output=True, text=True, timeout=600
    )
    assert done.returncode == 2
    assert words in done.stderr
    assert done.stderr.count("\n") == 1
