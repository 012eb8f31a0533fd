"""The command line: what it prints, what it writes, and one sentence for everything that cannot be."""

import json
import math
import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from app.commands import start_up
from app.commands.command_line import main
from core.circuits.active.two_port import two_port
from core.model.files import load, save
from core.model.readings import readings_of
from core.model.samples import sample_path
from core.model.stages.bilateral_amplifier import BilateralAmplifier
from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.rig.paper.export import netlist_of
from core.stages.crystals.crystal_sweep import transmission
from core.stages.crystals.crystals import Fixture
from tests.published.test_crystals import X

TERN, MUDDLE = str(sample_path("tern-20-12")), str(sample_path("muddle-40-20"))
TOP = Path(__file__).parents[2]


def said(capsys, *words: str) -> tuple[int, str, str]:
    code = main(words)
    out, err = capsys.readouterr()
    return code, out, err


def refused(capsys, *words: str) -> str:
    code, _, err = said(capsys, *words)
    assert code == 2
    assert err.startswith("copperclad: ")
    assert err.count("\n") == 1
    assert "Traceback" not in err
    return err


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


def test_a_netlist_is_written_for_filter_and_vfo(capsys, tmp_path):
    for stage, band, words in (
        ("low_pass", "12m", "Low-pass, 12 m"),
        ("vfo", "20m", "VFO, 20 m"),
        ("mixer", "12m", "Mixer, 12 m, receive"),
    ):
        file = tmp_path / f"{stage}.cir"
        assert said(capsys, "netlist", TERN, stage, "--band", band, "-o", str(file)) == (0, "", "")
        assert file.read_text() == netlist_of(Analysis(load(TERN)), stage, band)
        assert words in file.read_text().splitlines()[0]
    assert "not a filter" in refused(capsys, "netlist", MUDDLE, "mixer", "-o", str(tmp_path / "x.cir"))


def test_a_response_in_both_formats(capsys, tmp_path):
    touchstone, table = tmp_path / "l.s2p", tmp_path / "l.csv"
    ends = ("--from", "19.655MHz", "--to", "19,67 MHz", "--points", "31")
    assert said(capsys, "response", TERN, "ladder", "-o", str(touchstone), *ends)[0] == 0
    assert said(capsys, "response", TERN, "low_pass", "--band", "12m", "-o", str(table))[0] == 0
    import skrf

    network = skrf.Network(str(touchstone))
    exact = Analysis(load(TERN)).filter_response("ladder", "20m", network.f)
    assert network.f[0] == pytest.approx(19.655e6)
    assert abs(network.s[:, 1, 0] - exact.s21).max() < 1e-12
    assert table.read_text().startswith("frequency (Hz),loss (dB)")


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


def test_a_batch_of_crystals_is_worked_out_and_placed(capsys, tmp_path):
    rows = [f"{n},{9e6 + 37 * n % 190},{9.0195e6 + 31 * n}" for n in range(12)]
    table = tmp_path / "bag.csv"
    table.write_text("\n".join(["label,series,parallel", *rows]))
    rig = tmp_path / "nine.json"
    assert said(capsys, "new", "--bands", "20m", "--crystal", "9MHz", "-o", str(rig))[0] == 0
    words = ("crystals", str(table), "--method", "parallel-capacitor", "--c0", "4.5p", "--choose", "6")
    code, out, _ = said(capsys, *words, "--for", str(rig), "--json")
    data = json.loads(out)
    assert code == 0
    assert len(data["crystals"]) == 12
    assert [each["mesh"] for each in data["placement"]] == [1, 2, 3, 4, 5, 6]
    assert "name its project" in refused(capsys, *words)
    assert "no file none.csv" in refused(capsys, "crystals", "none.csv", "--method", "sweep")


@pytest.fixture
def bag(capsys, tmp_path):
    """A rig around 9 MHz, and twelve crystals of another make for it, two of them dead."""
    rows = []
    for n in range(1, 13):
        rm, lm = (100.0 if n in (4, 9) else 13.6), 23.4e-3 * (1 + 0.003 * (n % 5))
        width, loss = (100 + rm) / (2 * math.pi * lm), 20 * math.log10(1 + rm / 100)
        rows.append(f"{n},{8.9922e6 + 37 * n % 190},{width:.1f},{loss:.3f}")
    table = tmp_path / "bag.csv"
    table.write_text("\n".join(["label,peak,bandwidth,loss", *rows]))
    assert (
        said(capsys, "new", "--bands", "20m", "--crystal", "9MHz", "-o", str(tmp_path / "nine.json"))[0] == 0
    )
    return table


def test_choices_are_printed_with_their_responses_and_intervals(capsys, bag):
    words = (
        "crystals",
        str(bag),
        "--method",
        "bandwidth",
        "--choose",
        "6",
        "--for",
        f"{bag.parent}/nine.json",
    )
    _, out, _ = said(capsys, *words)
    data = json.loads(said(capsys, *words, "--json")[1])
    for each in data["placement_responses"]:
        (line,) = [line for line in out.splitlines() if line.startswith(each["choice"])]
        assert f"{each['loss_db']:.1f} dB" in line
    assert "design it for these" in out
    assert len(re.findall(r"Q only 1\d % of usual", out)) == 2
    assert (
        "95 % intervals of the readings; at worst with a fixture off by 5 % in its resistances, 0.1 dB" in out
    )
    first = data["crystals"][0]
    (line,) = [line for line in out.splitlines() if line.split()[:3] == ["1", "at", "worst"]]
    assert format_value(first["confidence"]["rm_ohm"], "Ω", 2) in line
    assert "{" not in out


def test_the_rig_made_for_the_crystals_is_written(capsys, bag):
    file = bag.parent / "made.json"
    words = ("crystals", str(bag), "--method", "bandwidth", "-o", str(file))
    assert "name its project with --for" in refused(capsys, *words)
    code, out, _ = said(capsys, *words, "--for", f"{bag.parent}/nine.json", "--choose", "6")
    assert code == 0
    made = load(file)
    ladder = Analysis(made).ladder
    assert ladder.poles == 6
    assert ladder.crystal.motional_inductance_h == pytest.approx(23.4e-3, rel=0.02)
    assert made.if_hz == pytest.approx(8.9923e6, abs=200)
    found = Analysis(made).filter_figures(ladder.id, "20m")
    assert f"loss {found.insertion_loss_db:.1f} dB, −3 dB width {found.bandwidth_3db_hz:.0f} Hz" in out
    assert made.crystal_batch.readings == readings_of(bag.read_text())
    data = json.loads(said(capsys, *words, "--for", f"{bag.parent}/nine.json", "--json")[1])
    assert {"4", "9"}.isdisjoint(data["designed"]["crystals"].values())


def test_a_sweeps_resistances_and_zero_are_told(capsys, tmp_path):
    f = np.linspace(9e6 - 6e3, 9e6 + 26e3, 401)
    s21 = transmission(X, f, Fixture(source_ohm=75.0, load_ohm=75.0))
    lines = [f"{a:.3f} 0 0 {b.real:.9f} {b.imag:.9f} 0 0 0 0" for a, b in zip(f, s21, strict=True)]
    (tmp_path / "x.s2p").write_text("\n".join(["# Hz S RI R 75", *lines]))
    (tmp_path / "bag.csv").write_text("label,file\nA,x.s2p\n")
    words = ("crystals", str(tmp_path / "bag.csv"), "--method", "sweep", "--json")

    def lm(*more):
        return json.loads(said(capsys, *words, *more)[1])["crystals"][0]["lm_h"]

    assert lm() == pytest.approx(16e-3, rel=1e-3)
    assert lm("--between", "fixture") == pytest.approx(16e-3 * 50 / 75, rel=1e-2)
    unequal = ("--between", "fixture", "--source", "100", "--load", "50")
    assert lm(*unequal) == pytest.approx(16e-3, rel=1e-3)
    assert lm(*unequal, "--zero", "power") != pytest.approx(16e-3, rel=1e-2)


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
    ("words", "limits"),
    [
        (("--from", "1e-300", "--to", "1e-299"), "--from must lie between 1 Hz and 10 GHz; 1e-300 does not"),
        (("--to", "1e300"), "--to must lie between 1 Hz and 10 GHz"),
        (("--from", "-5"), "--from must lie between 1 Hz and 10 GHz"),
        (("--reference", "0"), "--reference must lie between 1 mΩ and 1 GΩ"),
    ],
)
def test_a_response_where_nothing_is_defined_is_refused(capsys, tmp_path, words, limits):
    file = tmp_path / "ladder.s2p"
    assert limits in refused(capsys, "response", TERN, "ladder", "-o", str(file), *words)
    assert not file.exists()


def test_a_response_over_everything_holds_numbers_only(capsys, tmp_path):
    for stage in ("ladder", "band_pass", "low_pass"):
        for name in ("out.s2p", "out.csv"):
            file = tmp_path / name
            wide = ("--from", "1Hz", "--to", "10GHz", "--points", "50")
            assert said(capsys, "response", TERN, stage, "-o", str(file), *wide) == (0, "", "")
            assert "nan" not in file.read_text()
            assert "inf" not in file.read_text().replace("infinite", "")


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


def test_an_amplifiers_response_has_all_four_parameters_in_either_direction(capsys, tern, tmp_path):
    import skrf

    made = BilateralAmplifier(
        id="rf_stage", name="Pair", receive_gain_db=14.0, transmit_gain_db=10.0, current_a=13e-3
    )
    rig = tern.with_stages(tuple(made if each.id == "rf_stage" else each for each in tern.stages))
    save(rig, tmp_path / "rig.json")
    design = Analysis(rig).design("rf_stage", "20m")
    words = ("response", str(tmp_path / "rig.json"), "rf_stage", "--from", "2MHz", "--to", "30MHz")
    for way in ("receive", "transmit"):
        file = tmp_path / f"{way}.s2p"
        assert said(capsys, *words, "--points", "5", "--way", way, "-o", str(file))[0] == 0
        read = skrf.Network(str(file))
        solved = two_port(design.on(way).circuit, read.f)
        np.testing.assert_allclose(np.moveaxis(read.s, 0, -1), solved.s(50.0), rtol=1e-9)
        assert f"Pair, 20 m, {way}" in file.read_text()
        assert abs(read.s[1, 1, 0]) > 10 ** (9 / 20)
    table = tmp_path / "pair.csv"
    assert said(capsys, *words, "--points", "3", "--reference", "75", "-o", str(table))[0] == 0
    head, *lines = table.read_text().splitlines()
    assert head.split(",")[1:3] == ["gain (dB)", "reverse gain (dB)"]
    f, gain, _, into, _, noise = map(float, lines[1].split(","))
    solved = two_port(design.receive.circuit, [f])
    assert gain == pytest.approx(20 * math.log10(abs(solved.s(75.0)[1, 0, 0])))
    assert into == pytest.approx(-20 * math.log10(abs(solved.s(75.0)[0, 0, 0])))
    assert noise == pytest.approx(solved.noise_figure_db(75.0)[0])


def test_a_pairs_netlist_is_written_for_either_direction(capsys, tern, tmp_path):
    made = BilateralAmplifier(id="rf_stage", name="Pair", current_a=13e-3)
    rig = tern.with_stages(tuple(made if each.id == "rf_stage" else each for each in tern.stages))
    save(rig, tmp_path / "rig.json")
    file = tmp_path / "pair.cir"
    command = ("netlist", str(tmp_path / "rig.json"), "rf_stage", "-o", str(file), "--way", "transmit")
    assert said(capsys, *command)[0] == 0
    assert file.read_text() == netlist_of(Analysis(rig), "rf_stage", "20m", "transmit")
    assert "V_rail_receive_supply receive_supply 0 DC 0.0" in file.read_text()
