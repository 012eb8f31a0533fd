"""Figures are declared once: every one says what it is and whence, is used, and is written alike."""

import re
from pathlib import Path

import pytest

from core.rig.analysis import Analysis
from core.rig.figures import amplifiers, crystals, filters, levels, mixers, parts, plan, products
from core.rig.figures import read_out as read_out_figures
from core.rig.figures import receive as receive_figures
from core.rig.figures import survey as survey_figures
from core.rig.figures import vfo as vfo_figures
from core.rig.figures.figure import Figure, Table, plain_row
from core.rig.sections import crystal_oscillators
from core.rig.sections.rig import LEVELS, SECTIONS
from core.stages.outcome import Unsolved
from tests.pictures.declared import UNITS, declared

MODULES = (
    amplifiers,
    crystal_oscillators,
    crystals,
    filters,
    levels,
    mixers,
    parts,
    plan,
    products,
    read_out_figures,
    receive_figures,
    survey_figures,
    vfo_figures,
)
TABLES: dict[str, Table] = {
    f"{module.__name__.rpartition('.')[2]}.{name}": value
    for module in MODULES
    for name, value in vars(module).items()
    if name.isupper() and isinstance(value, tuple) and all(isinstance(each, Figure) for each in value)
}
UNITS |= {"Hz/turn", "turns", "times", "the part's", "%", "m", "T"}


def every() -> list[tuple[str, Figure]]:
    return [(f"{name}.{figure.key}", figure) for name, table in TABLES.items() for figure in table]


@pytest.mark.parametrize(("name", "figure"), every(), ids=[name for name, _ in every()])
def test_every_figure_says_what_it_is_where_it_comes_from_and_how_it_is_written(name, figure):
    declared(figure)


def test_the_keys_of_a_table_are_different():
    for name, table in TABLES.items():
        keys = [key for figure in table for key in (figure.keys or (figure.key,))]
        assert len(keys) == len(set(keys)), name


def numbers(value) -> list[float]:
    """The plain numbers of a value."""
    each = value if isinstance(value, tuple) else (value,)
    return [v for v in each if isinstance(v, int | float) and not isinstance(v, bool)]


def test_what_comes_to_a_number_has_a_unit_and_words_have_none(tern, muddle):
    seen = set()
    for analysis in (Analysis(tern), Analysis(muddle)):
        for section in (*SECTIONS, *LEVELS):
            for of in section.of(analysis):
                for figure in section.table:
                    value = figure.get(of)
                    if numbers(value):
                        assert figure.unit, f"{section.key}.{figure.key}"
                        seen.add(figure.key)
                    elif isinstance(value, str | bool):
                        assert figure.unit == "", f"{section.key}.{figure.key}"
    assert len(seen) > 50


def test_every_table_is_used_outside_its_declaration():
    top = Path(__file__).parents[2]
    sources = {f: f.read_text() for folder in ("app", "core") for f in (top / folder).rglob("*.py")}
    declared_in = {module.__name__.rpartition(".")[2]: Path(module.__file__) for module in MODULES}
    for name in TABLES:
        module, _, table = name.rpartition(".")
        users = [file for file, text in sources.items() if table in text and file != declared_in[module]]
        own = sources[declared_in[module]]
        assert users or own.count(table) > 2, name


#: Pictures whose sentences hold a number of their own: settings, values on hand, limits, what was tried for a
#: remedy.
SENTENCES = {
    *("junk_box", "spur_chart", "ladder_table", "response", "survey"),
}


def test_a_picture_leaves_the_writing_of_its_figures_to_their_declaration():
    top = Path(__file__).parents[2] / "app" / "pictures"
    by_itself = re.compile(r":[+,]?\.\d+f\}|\b(format_value|format_frequency|signed)\(")
    assert {each.stem for each in top.rglob("*.py") if by_itself.search(each.read_text())} <= SENTENCES


def test_what_is_written_is_read_back_from_json(tern):
    analysis = Analysis(tern)
    for section in (*SECTIONS, *LEVELS):
        for of in section.of(analysis):
            row = plain_row(section.table, of)
            for figure in section.table:
                if not isinstance(figure.get(of), Unsolved):
                    assert figure.read(row) == figure.text(of), f"{section.key}.{figure.key}"


@pytest.mark.parametrize(
    ("how", "value", "text"),
    [
        ({"unit": "dB", "places": 2}, 4.9675, "4.97 dB"),
        ({"unit": "dBm", "places": 1}, -131.04, "−131.0 dBm"),
        ({"unit": "dB", "places": 1, "signed": True}, 3.04, "+3.0 dB"),
        ({"unit": "dB", "places": 1, "signed": True}, -0.01, "0.0 dB"),
        ({"unit": "Hz", "places": 4, "prefix": "M"}, (14.1e6, 14.35e6), "14.1000 to 14.3500 MHz"),
        ({"unit": "Hz/K", "places": 0, "signed": True, "joint": " and "}, (3.7, -18.5), "+4 and −18 Hz/K"),
        ({"unit": "Hz"}, (900.0, 1200.0), "900 Hz to 1.2 kHz"),
        ({"unit": "s", "places": 2, "prefix": "m"}, 611e-6, "0.61 ms"),
        ({"unit": "-"}, 7, "7"),
        ({}, True, "yes"),
        ({}, ("20m", "12m"), "20m to 12m"),
        ({"absent": "none"}, None, "none"),
        ({}, Unsolved("No crystals."), "No crystals."),
    ],
)
def test_how_a_value_is_written(how, value, text):
    figure = Figure(key="k", title="t", what="W.", source="a test", get=lambda of: of, **how)
    assert figure.text(value) == text


def test_infinite_numbers_do_not_reach_json():
    figure = Figure(key="k", title="t", what="W.", source="a test", get=lambda of: of, unit="dB")
    assert figure.plain(float("inf")) == {"k": None}
    ends = Figure(key="k", keys=("a", "b"), title="t", what="W.", source="a test", get=lambda of: of)
    assert ends.plain((1.0, float("inf"))) == {"a": 1.0, "b": None}
    assert ends.plain(None) == {"a": None, "b": None}
