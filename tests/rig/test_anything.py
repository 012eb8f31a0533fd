"""Whatever is typed anywhere is refused with a sentence or computed, without NaN or exception."""

import json
import typing

from hypothesis import given, settings
from hypothesis import strategies as st

from core.model.values.base import Model
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.report import as_text, report

KEYS = {"id", "kind", "schema_version", "table", "readings", "draft", "as_built", "sweeps"}


def fields(model, path=()):
    """Every field of a model down to its leaves: path, value, declaration."""
    for name, field in type(model).model_fields.items():
        value = getattr(model, name)
        if isinstance(value, Model):
            yield from fields(value, (*path, name))
        elif isinstance(value, tuple) and value and isinstance(value[0], Model) and name not in KEYS:
            for place, member in enumerate(value):
                yield from fields(member, (*path, name, place))
        elif name not in KEYS:
            yield (*path, name), value, field


def another(value, field, random):
    """Some other value of about the same kind, sensible or not."""
    choices = [each for each in typing.get_args(field.annotation) if isinstance(each, str)]
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + random.choice([-2, -1, 1, 2, 5])
    if isinstance(value, float) or value is None:
        near = (value or 1e6) * random.choice([0.01, 0.3, 0.9, 1.01, 1.5, 4, 100, -1])
        return random.choice([near, near, 10.0 ** random.randint(-14, 9), None])
    return random.choice(choices) if choices else value


def tried(rig, path, value):
    """The edited rig, or the same with the reason."""
    try:
        return rig.edited(path, value), ""
    except DesignError as error:
        return rig, str(error)


@settings(max_examples=25)
@given(random=st.randoms(use_true_random=False), name=st.sampled_from(["tern", "muddle"]))
def test_no_row_of_edits_breaks_the_figures(tern, muddle, random, name):
    rig = {"tern": tern, "muddle": muddle}[name]
    for _ in range(12):
        path, value, field = random.choice(list(fields(rig)))
        rig, sentence = tried(rig, path, another(value, field, random))
        assert sentence == "" or (sentence.endswith(".") and "\n" not in sentence)
    analysis = Analysis(rig)
    figures = report(analysis)
    json.dumps(figures, allow_nan=False)
    assert "nan" not in as_text(figures)
    assert build_sheet(analysis).name == rig.name
