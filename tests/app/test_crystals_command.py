"""The command that works out a bag of crystals."""

import json
import math
import re

import numpy as np
import pytest

from core.model.files import load
from core.model.readings import readings_of
from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.stages.crystals.crystal_sweep import transmission
from core.stages.crystals.crystals import Fixture
from tests.app.saying import refused, said
from tests.published.test_crystals import X


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
