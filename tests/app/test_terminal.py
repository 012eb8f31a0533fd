"""What the command line prints: in every encoding, and nothing that steers the terminal."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from app.commands.command_line import main
from core.model.files import dumps, load, save
from core.model.samples import sample_path

TOP = Path(__file__).parents[2]
TERN = str(sample_path("tern-20-12"))
#: Every command that prints, and one that is refused, one after the other in one process.
SCRIPT = """
import sys
from app.commands.command_line import main
for words in (
    ["report", sys.argv[1]], ["report", sys.argv[1], "--json"], ["schema"], ["vfo", sys.argv[1]],
    ["survey", "--bands", "20m"], ["survey", "--bands", "20m", "--json"],
    ["crystals", sys.argv[2], "--method", "bandwidth"],
    ["crystals", sys.argv[2], "--method", "bandwidth", "--json"],
    ["response", sys.argv[1], "mixer", "-o", "x.s2p"], ["report", sys.argv[1], "--strict"],
):
    print("=====", main(words), flush=True)
"""
CODES = [0, 0, 0, 0, 0, 0, 0, 0, 2, 0]


def printed(table: Path, **environment: str) -> tuple[bytes, bytes]:
    plain = {
        name: value for name, value in os.environ.items() if not name.startswith(("LC_", "LANG", "PYTHONIO"))
    }
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, TERN, str(table)],
        capture_output=True,
        cwd=TOP,
        env=plain | {"PYTHONUTF8": "0"} | environment,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout, done.stderr


@pytest.fixture(scope="module")
def table(tmp_path_factory):
    file = tmp_path_factory.mktemp("readings") / "bag.csv"
    file.write_text("label,peak,bandwidth,loss\nΩ−1,9000000,1115,0.98\nb,1e300,−5,Ω\n", "utf-8")
    return file


@pytest.fixture(scope="module")
def in_utf_8(table):
    return [part.decode("utf-8") for part in printed(table, PYTHONIOENCODING="utf-8")]


def parts(text: str) -> list[tuple[str, int]]:
    """What each command printed, and its exit code."""
    pieces = text.replace("\r", "").split("===== ")
    codes = [int(piece.split()[0]) for piece in pieces[1:]]
    texts = [pieces[0], *(piece.partition("\n")[2] for piece in pieces[1:-1])]
    return list(zip(texts, codes, strict=True))


@pytest.mark.parametrize("encoding", ["cp1252", "latin-1", "cp437", "ascii", "C locale"])
def test_every_command_prints_in_every_encoding(table, in_utf_8, encoding):
    if encoding == "C locale":
        out, err = printed(table, LC_ALL="C", PYTHONCOERCECLOCALE="0")
        encoding = "ascii"
    else:
        out, err = printed(table, PYTHONIOENCODING=encoding)
    texts, reference = parts(out.decode(encoding)), parts(in_utf_8[0])
    assert [code for _, code in texts] == [code for _, code in reference] == CODES
    assert "\\u" not in texts[0][0]
    levels = re.findall(r"−[\d.]+ dB", reference[0][0])
    assert levels
    # A plus and minus is written with two signs.
    found = re.findall(r"(?<![+/])-[\d.]+ dB", texts[0][0])
    assert found == [level.replace("−", "-") for level in levels]
    for n in (1, 2, 5, 7):
        assert json.loads(texts[n][0]) == json.loads(reference[n][0])
    assert err.decode(encoding).count("\n") == in_utf_8[1].count("\n") == 1


def test_names_do_not_steer_the_terminal(capsys, tern, tmp_path):
    # What a project might hold as a name, and what a table or a folder does.
    turned, name = "a\u200fb", "a\nb\x1b[31m\u202e\x9b2J"
    file = tmp_path / "rig.json"
    file.write_text(dumps(tern).replace(tern.name, turned), "utf-8")
    assert main(["report", str(file)]) == 2
    text = capsys.readouterr().err
    assert "the invisible character U+200F" in text
    (tmp_path / "bag.csv").write_text(f'label,peak,bandwidth,loss\n"{name}",9M,x,1\n', "utf-8")
    assert main(["crystals", str(tmp_path / "bag.csv"), "--method", "bandwidth"]) == 0
    rows = capsys.readouterr().out
    assert "a b\\x1b[31m\\u202e\\x9b2J" in rows
    assert main(["report", str(tmp_path / name)]) == 2
    for each in (text, rows, capsys.readouterr().err):
        assert not set("\x1b\x9b\u202e\u200f") & set(each)


def test_a_name_that_is_no_text_is_printed_as_its_code(capsys, tmp_path, qapp):
    if sys.platform != "linux":
        return
    name = os.fsdecode(bytes(tmp_path) + b"/\xff.json")
    assert main(["new", "--bands", "20m", "-o", name]) == 0
    assert "\\udcff.json" in capsys.readouterr().out
    assert load(name).bands[0].name == "20m"


def test_a_project_is_not_overwritten_by_an_output(capsys, tern, tmp_path, qapp):
    save(tern, tmp_path / "rig.json")
    save(tern, tmp_path / "other.s2p")
    rig = str(tmp_path / "rig.json")
    for words in (
        ("sheet", rig, "-o", rig),
        ("response", rig, "ladder", "-o", str(tmp_path / "other.s2p")),
        ("sheet", TERN, "-o", str(tmp_path / "other.s2p")),
    ):
        assert main(words) == 2
        assert capsys.readouterr().err.endswith("is a project and would be lost; write to another file.\n")
    assert load(rig) == load(tmp_path / "other.s2p") == tern
    assert main(["vfo", rig, "--solve", "-o", rig]) == 0
    assert load(rig).vfo.tank.as_built
    assert load(tmp_path / "rig.json.bak") == tern
