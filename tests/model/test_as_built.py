"""Values really fitted: what no part can be is refused in a sentence, wherever it comes from."""

import json

import pytest

from core.model.files import dumps, loads
from core.model.values.errors import DesignError, FileError

LADDER = ("stages", "ladder", "as_built")


def in_a_file(rig, text):
    """The project's text with the ladder's values as built written as `text`."""
    data = json.loads(dumps(rig))
    next(each for each in data["stages"] if each["id"] == "ladder")["as_built"] = "HERE"
    return json.dumps(data, indent=2).replace('"HERE"', text)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("7", "pairs of a part and a number"),
        ("null", "pairs of a part and a number"),
        ("true", "pairs of a part and a number"),
        ("[1, 2]", "pairs of a part and a number"),
        ('"C1"', "pairs of a part and a number"),
        ('{"coupling:1": 0}', "the value of C1 cannot be 0 F; it must lie between 0.000001 pF and 1 F"),
        ('{"coupling:1": -1e-10}', "the value of C1 cannot be −100 pF"),
        ('{"coupling:1": 1e30}', "the value of C1 cannot be "),
        ('{"coupling:1": 1e308}', "the value of C1 cannot be so large a number"),
        ('{"coupling:1": 1e-310}', "the value of C1 cannot be "),
        ('{"coupling:1": true}', "the value of C1 must be a number in F"),
        ('{"coupling:1": "1e6"}', "the value of C1 must be a number in F"),
        ('{"coupling:1": [1e-10]}', "the value of C1 must be a number in F"),
        ('{"coupling:1": null}', "the value of C1 must be a number in F"),
        (
            '{"crystal:1": 1.23e-10}',
            "the value of X1 cannot be 0.000000000123 Hz; it must lie between 1 Hz and 10 GHz",
        ),
        ('{"crystal:1.lm": 1e5}', "the value of X1.lm cannot be 100 kH"),
        ('{"crystal:1.q": 0.5}', "the value of X1.q cannot be 0.5"),
        ('{"crystal:1.mass": 1}', "“X1.mass” is no part with a value"),
        ('{"Q1": 1}', "“Q1” is no part with a value"),
        ('{"": 1}', "“” is no part with a value"),
        ('[["coupling:1", 1e-10], ["coupling:1", 2e-10]]', "the part C1 is given twice"),
        ('{"coupling:\\u001b": 1e-10}', "invisible character U+001B"),
        (
            "{" + ", ".join(f'"coupling:{n}": 1e-10' for n in range(201)) + "}",
            "more than 200 values as built",
        ),
    ],
)
def test_a_file_with_a_value_that_no_part_has_is_refused(tern, text, reason):
    with pytest.raises(FileError, match=r"line \d+: stages\.\d+\.as_built") as refusal:
        loads(in_a_file(tern, text), "rig.json")
    sentence = str(refusal.value)
    assert reason in sentence
    assert "\n" not in sentence
    assert len(sentence) < 300


def test_values_as_built_come_back_from_a_file_as_they_were(tern):
    values = {
        "coupling:1": 1.5e-10,
        "crystal:1": 19660800,
        "crystal:1.lm": 4.5e-3,
        "crystal:1.c0": 3e-12,
        "crystal:1.q": 80e3,
        "match_coil:1": 2e-6,
    }
    rig = tern.edited(LADDER, values)
    again = loads(dumps(rig))
    assert again == rig
    assert dict(again.stage("ladder").as_built) == values
    assert all(type(value) is float for _, value in again.stage("ladder").as_built)


def test_an_edit_is_held_to_the_same_limits(tern):
    for values in (
        {"coupling:1": 0.0},
        {"coupling:1": -1e-12},
        {"match_coil:1": 1e-13},
        (("coupling:1", 1e-10), ("coupling:1", 1e-10)),
        5,
        {"coupling:1": None},
    ):
        with pytest.raises(DesignError, match="As built: "):
            tern.edited(LADDER, values)


def test_a_renamed_band_keeps_its_fitted_shift_parts(tern):
    shifted = tern.edited(("bands", "12m", "vfo_shift"), "parallel")
    rig = shifted.edited(
        ("vfo", "tank", "as_built"),
        {"shift:12m": 1161.6e-12, "trimmer:12m": 20e-12, "feedback_upper": 330e-12},
    )
    renamed = rig.edited(("bands", "12m", "name"), "twelve")
    assert dict(renamed.vfo.tank.as_built) == {
        "shift:twelve": 1161.6e-12,
        "trimmer:twelve": 20e-12,
        "feedback_upper": 330e-12,
    }
    left = rig.band_removed("12m")
    assert dict(left.vfo.tank.as_built) == {"feedback_upper": 330e-12}
    # A value left over from another band of that name does not get in the way.
    both = rig.edited(("vfo", "tank", "as_built"), {"shift:12m": 1e-9, "shift:x": 2e-9})
    assert dict(both.edited(("bands", "12m", "name"), "x").vfo.tank.as_built) == {"shift:x": 1e-9}
