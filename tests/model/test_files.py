"""Project files: nothing is lost, and what cannot be read is said in one sentence with field and line."""

import errno
import json
import os
from pathlib import Path

import pytest

from core.model import disk, files
from core.model.files import dumps, load, loads, save
from core.model.old_references import role_key
from core.model.project import Project
from core.model.values.errors import FileError
from core.model.values.part_names import spelled
from core.rig.analysis import Analysis


def test_a_project_comes_back_as_it_was_saved(tern, muddle, tmp_path):
    rig = tern.edited(("stages", "ladder", "as_built"), {"coupling:2": 2.1e-10, "coupling:1": 1.5e-10})
    for project in (rig, muddle, Project()):
        save(project, tmp_path / "rig.json")
        assert load(tmp_path / "rig.json") == project
    assert json.loads(dumps(rig))["stages"][9]["as_built"] == {"coupling:1": 1.5e-10, "coupling:2": 2.1e-10}


def test_the_previous_version_stays_beside(tern, tmp_path):
    file = tmp_path / "rig.json"
    save(tern, file)
    save(tern.edited(("name",), "second"), file)
    assert load(file).name == "second"
    assert load(tmp_path / "rig.json.bak") == tern
    assert sorted(p.name for p in tmp_path.iterdir()) == ["rig.json", "rig.json.bak"]


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_full_disk_leaves_the_old_file_whole(tern, tmp_path, monkeypatch, call):
    file = tmp_path / "rig.json"
    save(tern, file)

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, call, full)
    with pytest.raises(FileError, match=r"no space left on device.*free some space"):
        save(tern.edited(("name",), "lost"), file)
    monkeypatch.undo()
    assert load(file) == tern
    assert not list(tmp_path.glob("*.tmp"))


def test_a_folder_that_is_not_there(tern, tmp_path):
    with pytest.raises(FileError, match="another name or folder"):
        save(tern, tmp_path / "nowhere" / "rig.json")


def test_a_read_only_folder(tern, tmp_path, monkeypatch):
    def forbidden(*_, **__):
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(disk.tempfile, "mkstemp", forbidden)
    with pytest.raises(FileError, match=r"permission denied.*another name or folder"):
        save(tern, tmp_path / "rig.json")


def changed(tern, **changes) -> str:
    data = json.loads(dumps(tern))
    for path, value in changes.items():
        place = data
        *steps, last = path.split("__")
        for step in steps:
            place = place[int(step)] if step.isdigit() else place[step]
        if value is None:
            del place[last]
        else:
            place[last] = value
    return json.dumps(data, indent=2)


CASES = {
    "empty": (lambda t: "", "is empty"),
    "blank": (lambda t: " \n ", "is empty"),
    "truncated": (lambda t: dumps(t)[:700], "truncated"),
    "one brace": (lambda t: "{", "truncated"),
    "not json": (lambda t: "a rig", "is not JSON"),
    "a list": (lambda t: "[1, 2]", "not a project"),
    "another object": (lambda t: '{"a": 1}', "schema_version"),
    "newer": (lambda t: changed(t, schema_version=99), "newer version"),
    "nan": (lambda t: dumps(t).replace("19660800.0", "NaN", 1), "NaN"),
    "infinity": (lambda t: dumps(t).replace("19660800.0", "-Infinity", 1), "Infinity"),
    "overflow": (lambda t: dumps(t).replace("19660800.0", "1e999", 1), "line 5.*if_hz.*finite"),
    "negative": (
        lambda t: changed(t, if_hz=-3),
        "line 5: if_hz.*must be at least 10 kHz; correct it",
    ),
    "tiny": (
        lambda t: changed(t, stages__9__crystal__motional_inductance_h=1e-30),
        "motional_inductance_h cannot be used: must be at least 1 pH; correct it",
    ),
    "absurd": (lambda t: changed(t, if_hz=1e20), "line 5.*if_hz"),
    "text": (lambda t: changed(t, if_hz="many"), "line 5.*if_hz.*number"),
    "unknown": (lambda t: changed(t, stages__9__pols=8), "pols is not a field.*did you mean poles"),
    "missing": (lambda t: changed(t, stages__9__id=None), r"line \d+.*stages.9.id is missing"),
    "kind": (lambda t: changed(t, stages__9__kind="laddr"), "kind of stage"),
    "band upside down": (lambda t: changed(t, bands__0__high_hz=1e6), "ends below its start"),
    "same key twice": (lambda t: '{"schema_version": 2, "name": "a", "name": "b"}', "twice"),
    "twin stages": (lambda t: changed(t, stages__1__id="ladder"), "share the stage key ladder"),
    "no bands": (lambda t: changed(t, bands=[]), "bands"),
    "deep": (lambda t: "[" * 100_000, "nested|truncated"),
    "huge figure": (lambda t: '{"schema_version": ' + "9" * 5000 + "}", "a number of 5000 digits"),
    "version 0": (lambda t: changed(t, schema_version=0), "says schema_version 0, which no version"),
    "version -1": (lambda t: changed(t, schema_version=-1), "says schema_version -1, which"),
    "version 2.0": (lambda t: changed(t, schema_version=2.0), r"says schema_version 2\.0, which"),
    "version in quotes": (lambda t: changed(t, schema_version="2"), 'says schema_version "2", which'),
    "number in quotes": (lambda t: changed(t, if_hz="19660800"), "line 5.*if_hz.*must be a number"),
    "yes": (lambda t: changed(t, stages__0__in_path="yes"), "in_path.*must be true or false"),
    "number for a switch": (
        lambda t: changed(t, stages__0__in_path=1),
        "in_path.*must be true or false",
    ),
    "count with a fraction": (
        lambda t: changed(t, stages__9__poles=8.0),
        "9.poles.*must be a whole number",
    ),
    "long key": (lambda t: changed(t, **{"k" * 1_000_000: 1}), "kkk….* is not a field"),
    "long key twice": (lambda t: '{"%s": 1, "%s": 2}' % (("k" * 9999,) * 2), "kkk….* stands twice"),
    "long kind": (lambda t: changed(t, stages__9__kind="k" * 9999), "kind of stage"),
    "half a character": (
        lambda t: dumps(t).replace("Tern", "\\ud800", 1),
        r"rig\.json, line 3 holds half a character",
    ),
    "half a character in a key": (
        lambda t: changed(t, stages__9__as_built={"coupling:\ud800": 1e-10}),
        r"line \d+ holds half a character",
    ),
    "escapes in a key": (lambda t: changed(t, **{"\x1b[2J\n": 1}), r"\\x1b\[2J  is not a field"),
}


def test_a_whole_number_is_a_number(tern):
    assert loads(changed(tern, if_hz=19660800)) == tern
    assert type(loads(changed(tern, if_hz=19660800)).if_hz) is float


def test_a_reason_that_says_what_to_do_is_not_told_twice(tern):
    with pytest.raises(FileError) as refusal:
        loads(changed(tern, stages__1__id="ladder"), "rig.json")
    assert str(refusal.value).endswith("share the stage key ladder; rename one.")


def test_a_project_too_large_to_be_opened_again_is_not_saved(tern, tmp_path, monkeypatch):
    save(tern, tmp_path / "rig.json")
    monkeypatch.setattr(files, "LARGEST_BYTES", 1000)
    with pytest.raises(FileError, match="could not be opened again; take some sweeps out"):
        save(tern.edited(("name",), "n"), tmp_path / "rig.json")
    monkeypatch.undo()
    assert load(tmp_path / "rig.json") == tern


@pytest.mark.parametrize("case", CASES)
def test_a_broken_file_is_one_sentence(case, tern):
    text, hint = CASES[case]
    with pytest.raises(FileError, match=hint) as refusal:
        loads(text(tern), "rig.json")
    sentence = str(refusal.value)
    assert sentence.startswith("rig.json")
    assert "\n" not in sentence
    assert len(sentence) < 300


def test_files_that_are_no_files(tmp_path):
    with pytest.raises(FileError, match="no file"):
        load(tmp_path / "none.json")
    with pytest.raises(FileError, match="folder"):
        load(tmp_path)
    (tmp_path / "binary.json").write_bytes(b"\xff\xfe\x00\x01" * 10)
    with pytest.raises(FileError, match="UTF-8"):
        load(tmp_path / "binary.json")
    with (tmp_path / "huge.json").open("wb") as file:
        file.truncate(21_000_000)
    with pytest.raises(FileError, match="20 MB"):
        load(tmp_path / "huge.json")


def test_markup_in_names_is_text(tern):
    rig = loads(changed(tern, name="<b>& </b>"))
    assert rig.name == "<b>& </b>"


def test_migrations_run_in_order_on_a_copy(tern, monkeypatch):
    old = json.loads(dumps(tern))
    old["title"] = old.pop("name")
    old["schema_version"] = 1
    monkeypatch.setattr(files, "SCHEMA_VERSION", 3)
    steps = {
        1: lambda d: {**{k: v for k, v in d.items() if k != "title"}, "label": d["title"]},
        2: lambda d: {
            **{k: v for k, v in d.items() if k != "label"},
            "name": d["label"],
            "schema_version": 3,
        },
    }
    monkeypatch.setattr(files, "MIGRATIONS", steps)
    migrated = files._migrated(old, "old.json")
    assert migrated["name"] == tern.name
    assert migrated["schema_version"] == 3
    assert "title" in old


def test_a_file_of_the_first_version_is_the_same_rig_today(tern):
    old = load(Path(__file__).with_name("version_1.json"))
    assert old.schema_version == files.SCHEMA_VERSION == 4
    assert old.vfo.tank is None
    assert old.read_out is None
    assert old.bands == tern.bands
    # What the first version knew is as it was; the sample has got a stronger power amplifier, and circuits in
    # place of the amplifiers that were blocks.
    then = tern.edited(("stages", "power_amplifier", "rated_w"), 6.0)
    # ... and a preamplifier and a volume control between detector and speaker. What is left stands in order.
    added = [now.id for now in then.stages if now.id not in {was.id for was in old.stages}]
    assert added == ["preamplifier", "gain_control"]
    for was, now in zip(old.stages, [each for each in then.stages if each.id not in added], strict=True):
        if was.kind in ("amplifier", "audio"):
            assert now.kind in ("built_amplifier", "audio_power", "built_audio")
            # Of audio amplifiers the names tell which one they are today.
            today = {"Audio amplifier": "Audio power stage"}.get(was.name, was.name)
            assert (was.id, today, was.direction) == (now.id, now.name, now.direction)
        else:
            assert was == now
    assert old.stage("if_amplifier_1").gain_db == 16.0
    assert old.carrier == tern.carrier


def test_values_as_built_by_reference_are_those_of_the_same_parts_today():
    file = Path(__file__).with_name("version_2.json")
    old, rig = json.loads(file.read_text()), load(file)
    assert rig.schema_version == 4
    analysis = Analysis(rig)
    tank = old["vfo"]["tank"]["as_built"]
    owners = [(tank, rig.vfo.tank, analysis.tank.parts, {"CB40m"})]
    for stage in old["stages"]:
        found = rig.stage(stage["id"])
        for n, holder in enumerate(stage.get("filters", [stage] if "as_built" in stage else [])):
            mine = found.filters[n] if "filters" in stage else found
            parts = analysis.filter_design(
                stage["id"], (mine.bands if "filters" in stage else ["20m"])[0]
            ).parts
            owners.append((holder["as_built"], mine, parts, {"C99", "LM1", "R7"}))
    assert sum(len(built) for built, *_ in owners) == 27
    for built, mine, parts, idle in owners:
        # Nothing is lost and nothing changes its value, whether a part of today takes it or not.
        assert sorted(dict(mine.as_built).values()) == sorted(built.values())
        assert {spelled(mine.family, key): value for key, value in mine.as_built} == built
        fitted = {row.ref: row.as_built for row in parts if row.as_built is not None}
        assert fitted == {ref: value for ref, value in built.items() if ref not in idle and "." not in ref}
    crystal = next(p for p in analysis.filter_design("ladder", "20m").network.parts if p.ref == "X1")
    assert (crystal.motional_inductance_h, crystal.holder_capacitance_f, crystal.q) == (4.1e-3, 3.2e-12, 9e4)
    assert dict(rig.stage("ladder").as_built)["other:R7"] == 50.0
    assert loads(dumps(rig)) == rig


@pytest.mark.parametrize(
    ("family", "ref", "key"),
    [
        ("ladder", "X1A.q", "crystal:1A.q"),
        ("ladder", "CM2", "match_capacitor:2"),
        ("ladder", "C01", "other:C01"),
        ("ladder", "T1", "T1"),
        ("low_pass", "CT2", "trap:2"),
        ("band_pass", "CB1", "tap_lower:1"),
        ("band_pass", "CA2", "tap_upper:2"),
        ("tank", "CT", "trimmer"),
        ("tank", "CTD1", "trimmer:D1"),
        ("tank", "CD", "differential"),
        ("tank", "CS3", "other:CS3"),
        ("tank", "RG", "other:RG"),
        ("tank", "L1", "coil"),
    ],
)
def test_an_old_reference_is_the_part_that_it_was(family, ref, key):
    assert role_key(family, ref) == key


@pytest.mark.parametrize(
    "wrong", [7, None, "C1", [1, 2], [["C1"]], [[None, 1e-10]], {"C1": None}, {"Q1": 1.0}, {"X1.mass": 1.0}]
)
def test_old_values_as_built_that_were_refused_are_refused(wrong):
    data = json.loads(Path(__file__).with_name("version_2.json").read_text())
    data["vfo"]["tank"]["as_built"] = wrong
    with pytest.raises(FileError, match="as_built"):
        loads(json.dumps(data))


@pytest.mark.parametrize(("device", "became"), [("jfet", "j310"), ("bjt", "2n3904")])
def test_an_oscillator_with_a_typed_bias_current_keeps_its_resistor(tern, device, became):
    """Earlier files have a current beside a resistor that cannot carry it; the resistor is what was drawn."""
    data = json.loads(dumps(tern))
    data["vfo"]["tank"]["feedback"] = {
        "upper_f": 3.3e-10, "lower_f": 4.7e-10, "coupling_f": 1e-10, "type": "c0g", "device": device,
        "bias_a": 0.005, "saturation_a": 0.035, "pinch_off_v": 4.0, "beta": 100.0, "input_f": 5e-12,
        "drain_f": 2.5e-12, "source_ohm": 1800.0,
    }  # fmt: skip
    found = loads(json.dumps(data)).vfo.tank.feedback
    assert (found.device, found.bias_ohm, found.choke_h, found.load_ohm) == (became, 1800.0, None, None)
    assert found.coupling_f == 1e-10
    typed = (found.saturation_a, found.pinch_off_v, found.input_f, found.drain_f, found.beta)
    assert typed == ((0.035, 4.0, 5e-12, 2.5e-12, None) if device == "jfet" else (None,) * 4 + (100.0,))
