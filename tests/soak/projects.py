"""Random valid projects, harsh ones too, through figures, report, sheet, drawings, exports, survey and edits.

Values are drawn over everything that the model allows, evenly in their logarithm; stages, bands, filters and
values as built come and go. Each case has a seed of its own, so that one case is seen again with
`--seed N --count 1`.
"""

import json
import math
import re
import tempfile
import traceback
import typing
import warnings
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
from annotated_types import Ge, Gt, Le, Lt

from core.model.bands import SCHEMES, Band
from core.model.files import dumps, load, loads
from core.model.project import Project
from core.model.samples import sample_path
from core.model.values.base import Model
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.board.boards import boards
from core.rig.board.checks import misjoined
from core.rig.paper.build_sheet import build_sheet
from core.rig.paper.export import response_csv, response_touchstone
from core.rig.paper.report import as_text, report, survey_report, survey_text, vfo_text
from core.rig.scattered import distribution
from core.rig.start.new_rig import default_stage, new_rig, with_band, with_frequencies, with_tank
from core.rig.survey.if_survey import survey
from core.stages.filters import carrier_oscillator, ladder_figures, ladder_filter
from core.stages.filters.carrier_oscillator import CarrierPlace
from core.stages.kinds.table import KINDS
from core.stages.outcome import FilterDesign, Unsolved
from core.stages.tolerance import filters
from core.stages.tolerance.filters import LADDER
from core.stages.tolerance.judging import Spreads, ToleranceRun
from core.stages.vfo import compensation, tank_design
from core.stages.vfo.tank import TankDesign
from core.trade.crystals import stock
from tests.soak.outcome import NOT_FINITE, Outcome, patience, prints_no_number

DONE = "every figure a number or a reason"
FINE = frozenset({DONE})
#: One case in so many is printed as PDF, and one in so many goes through survey and new rig.
_PRINTED, _SURVEYED = 25, 10
#: One project may take this long on a busy machine, seconds.
_PATIENCE_S = 120
_KEPT = frozenset(
    {"id", "kind", "schema_version", "as_built", "table", "readings", "draft", "sweeps", "bands"}
    | {"filters", "stages"}
)
_NAMES = ("20&12", "<b>", "a'b\"c", "$x$", "é 20", "-", "20m", "=1+1")


def cases(count: int, seed: int) -> Iterator[Outcome]:
    """Try the projects of the seeds `seed`, `seed` + 1 and so on, `count` of them."""
    for each in range(seed, seed + count):
        yield Outcome(_tried(each), f"python -m tests.soak projects --seed {each} --count 1")


def _tried(seed: int) -> str:
    chance = Random(f"projects {seed}")
    try:
        with patience(_PATIENCE_S), warnings.catch_warnings():
            warnings.simplefilter("error")
            return _seen_through(project(chance), seed, chance)
    except Exception as error:
        frames = traceback.extract_tb(error.__traceback__)
        own = [frame for frame in frames if "/core/" in frame.filename.replace("\\", "/")] or frames
        return f"{type(error).__name__} at {Path(own[-1].filename).name}:{own[-1].lineno} ({error})"[:160]


# -- making a project ------------------------------------------------------------------------------------


@lru_cache(maxsize=2)
def _sample(name: str) -> Project:
    return load(sample_path(name))


def project(chance: Random) -> Project:
    """A valid project: a sample or a new rig, changed at random as far as the model lets it."""
    start = chance.random()
    if start < 0.7:
        rig = _sample(chance.choice(["tern-20-12", "muddle-40-20"]))
    else:
        rig = new_rig([_band(chance, n) for n in range(chance.randint(1, 4))], 10 ** chance.uniform(4, 9))
    for _ in range(chance.choice([0, 0, 1, 2, 5])):
        rig = _restructured(rig, chance)
    # From one harsh value in an ordinary rig to hardly an ordinary value.
    for _ in range(chance.choice([1, 3, 10, 30, 100, 300])):
        path, value, hint = chance.choice(list(fields(rig)))
        rig = edited(rig, path, another(value, hint, chance))
    for _ in range(chance.choice([0, 0, 1, 2])):
        rig = _built(rig, chance)
    return rig


def edited(rig: Project, path: tuple[str | int, ...], value: Any) -> Project:
    """The edited project, or the same where the model refuses, which it must do in a sentence."""
    try:
        return rig.edited(path, value)
    except DesignError as error:
        _one_sentence(str(error))
        return rig


def _one_sentence(text: str) -> None:
    assert text.endswith("."), text
    assert text.isprintable(), text


def fields(
    model: Model, path: tuple[str | int, ...] = ()
) -> Iterator[tuple[tuple[str | int, ...], Any, Any]]:
    """Every field of a model down to its leaves: path, value, type with its limits."""
    hints = typing.get_type_hints(type(model), include_extras=True)
    for name, hint in hints.items():
        if name not in type(model).model_fields:
            continue
        value = getattr(model, name)
        if isinstance(value, Model):
            yield from fields(value, (*path, name))
        elif isinstance(value, tuple) and value and isinstance(value[0], Model):
            for place, member in enumerate(value):
                yield from fields(member, (*path, name, place))
        if name not in _KEPT:
            yield (*path, name), value, (hint, type(model).model_fields[name].metadata)


def another(value: Any, hint: Any, chance: Random) -> Any:
    """Another value of a field's type, anywhere between its limits."""
    kind, marks = hint
    options = [each for each in typing.get_args(kind) if each is not type(None)]
    optional = type(None) in typing.get_args(kind)
    if optional and chance.random() < 0.2:
        return None
    if typing.get_origin(kind) is typing.Literal:
        return chance.choice(options)
    if kind is bool:
        return not value
    if isinstance(value, Model):
        return type(value)() if chance.random() < 0.5 else value
    if optional and len(options) == 1:
        kind = options[0]
        if isinstance(kind, type) and issubclass(kind, Model):
            return kind()
    if typing.get_origin(kind) is tuple and value is not None:
        member = typing.get_args(kind)[0]
        return tuple(another(None, (member, ()), chance) for _ in range(chance.randint(0, 6)))
    limits = [*getattr(kind, "__metadata__", ()), *marks]
    low = max(
        (float(m.ge if isinstance(m, Ge) else m.gt) for m in limits if isinstance(m, Ge | Gt)), default=None
    )
    high = min(
        (float(m.le if isinstance(m, Le) else m.lt) for m in limits if isinstance(m, Le | Lt)), default=None
    )
    if low is None or high is None:
        return chance.choice(_NAMES) if isinstance(value, str) else value
    if isinstance(value, int) and not isinstance(value, bool):
        return chance.randint(int(low), int(high))
    where = chance.random()
    if where < 0.1:
        return low if chance.random() < 0.5 else high
    if where < 0.4 and value:
        return min(max(value * 10 ** chance.uniform(-1, 1), low), high)
    if low > 0:
        return 10 ** chance.uniform(math.log10(low), math.log10(high))
    return chance.uniform(low, high)


def _band(chance: Random, number: int) -> Band:
    low = 10 ** chance.uniform(4, 8.9)
    high = min(low * (1 + 10 ** chance.uniform(-5, 0)), 1e9)
    return Band.checked(
        name=f"{number}{chance.choice(['m', '&', '<'])}",
        low_hz=low,
        high_hz=high,
        sideband=chance.choice(["lower", "upper"]),
        scheme=chance.choice(SCHEMES),
        vfo_shift=chance.choice(["none", "parallel", "series"]),
    )


def _restructured(rig: Project, chance: Random) -> Project:
    keys = [stage.id for stage in rig.stages]
    what = chance.randrange(7)
    if what == 0:
        fresh = default_stage(chance.choice(tuple(KINDS)), rig.bands, rig.if_hz)
        return rig.stage_inserted(chance.randint(0, len(keys)), fresh)
    if what == 1 and keys:
        return rig.stage_removed(chance.choice(keys))
    if what == 2 and keys:
        return rig.stage_moved(chance.choice(keys), chance.randrange(len(keys)))
    if what == 3 and keys:
        return rig.stage_duplicated(chance.choice(keys))
    if what == 4 and len(rig.bands) < 4:
        band = _band(chance, 7 + len(rig.bands))
        return with_band(rig, band) if band.name not in [b.name for b in rig.bands] else rig
    if what == 5 and len(rig.bands) > 1:
        return rig.band_removed(chance.choice(rig.bands).name)
    return edited(rig, ("bands", 0, "name"), chance.choice(_NAMES))


def _built(rig: Project, chance: Random) -> Project:
    """The rig with values as built for some parts of a filter or the tank, near the design or anywhere."""
    analysis = Analysis(rig)
    rows = [row for row in analysis.filters if isinstance(row.design, FilterDesign)]
    owners = [
        (("stages", row.stage, *(() if row.index is None else ("filters", row.index))), row.design.parts)
        for row in rows
    ]
    if isinstance(analysis.tank, TankDesign):
        owners.append((("vfo", "tank"), analysis.tank.parts))
    if not owners:
        return rig
    path, parts = chance.choice(owners)
    harsh = chance.random() < 0.5
    values = {}
    for part in chance.sample(parts, min(len(parts), chance.randint(1, 8))):
        near = part.fitted * 10 ** chance.uniform(-0.05, 0.05)
        far = 10 ** chance.uniform(*{"F": (-18, 0), "H": (-12, 4), "Hz": (0, 10)}.get(part.unit, (0, 1)))
        values[part.key] = far if harsh else near
        if part.kind == "crystal" and chance.random() < 0.3:
            values |= {
                f"{part.key}.lm": 10 ** chance.uniform(-12, 4),
                f"{part.key}.q": 10 ** chance.uniform(0, 8),
            }
    return edited(rig, (*path, "as_built"), values)


# -- seeing it through -----------------------------------------------------------------------------------


def _seen_through(rig: Project, seed: int, chance: Random) -> str:
    """What is wrong with anything that the program shows or writes of a project; `DONE` when nothing is."""
    if loads(dumps(rig)) != rig:
        return "changes on saving and loading"
    analysis = Analysis(rig)
    data = report(analysis)
    text = as_text(data)
    json.dumps(data, allow_nan=False)
    if prints_no_number(text, rig):
        return "prints a number that is none"
    sheet = repr(build_sheet(analysis))
    # A shelf may hold as many as one likes.
    meant = sheet.replace("=inf, low_hz", "").replace("many=inf", "")
    if re.search(r"[=( −-](nan|inf)[,) ]", meant) and "nan" in sheet:
        return "a sheet with a number that is none"
    for wrong in (_filters(analysis, chance), _oscillators(analysis, chance), _laid_out(analysis)):
        if wrong:
            return wrong
    if seed % _SURVEYED == 0:
        _surveyed(rig, chance)
        _scattered(analysis)
    if seed % _PRINTED == 0:
        _printed(rig)
    return DONE


def _filters(analysis: Analysis, chance: Random) -> str:
    from app.sheet.schematic import schematic_svg

    for row in analysis.filters:
        if isinstance(row.design, Unsolved):
            continue
        network, (low, high) = row.design.network, row.design.span_hz
        schematic_svg(network)
        for band in analysis.project.bands:
            if band.name in row.bands:
                analysis.rejections(row.stage, band.name, band.low_hz)
        f = np.geomspace(max(low / 10, 1.0), min(high * 10, 1e10), 41)
        if np.isnan(analysis.filter_response(row.stage, (row.bands or ("",))[0], f).s21).any():
            return "a response that is no number"
        reference = chance.choice([None, 50.0])
        for text in (response_touchstone(network, f, reference, "t"), response_csv(network, f, reference)):
            if NOT_FINITE.search(text):
                return "an export with a number that is none"
    ladder = analysis.ladder
    if ladder is not None:
        ladder_filter.mesh_reactances(analysis.asked(ladder))
        ladder_figures.rounding(analysis.asked(ladder))
        for band in analysis.project.bands:
            place = analysis.carrier(band.name)
            if isinstance(place, CarrierPlace):
                audio = np.linspace(200, 3500, 21)
                heard = carrier_oscillator.audio_response(analysis.ladder_solved, place, audio)
                if not isinstance(heard, Unsolved) and np.isnan(heard).any():
                    return "an audio response that is no number"
    return ""


def _oscillators(analysis: Analysis, chance: Random) -> str:
    from app.sheet.tank_schematic import tank_svg

    for band in analysis.project.bands:
        analysis.solved_pulling(band.name)
        dial = chance.uniform(band.low_hz, band.high_hz)
        levels = analysis.receive(band.name, dial), analysis.transmit(band.name, dial)
        if any(
            np.isnan(each).any() for each in (levels[0].own_noise_dbm, levels[0].s9_dbm, levels[1].level_dbm)
        ):
            return "a level that is no number"
    made = analysis.tank
    if isinstance(made, TankDesign):
        if NOT_FINITE.search(vfo_text(analysis, made)):
            return "a VFO with a number that is none"
        tank_svg(made)
        compensation.compensation(made)
        try:
            tank_design.kept(made)
        except DesignError as error:
            _one_sentence(str(error))
    return ""


def _laid_out(analysis: Analysis) -> str:
    for board in boards(analysis):
        if misjoined(board.plan, board.items):
            return f"the board of {board.title} joins what its circuit does not"
        if board.clashes and not board.by_hand:
            return f"something lies on something else on the board of {board.title}"
    return ""


def _surveyed(rig: Project, chance: Random) -> None:
    rows = survey(rig.bands, [each.frequency_hz for each in stock()] + [rig.if_hz])
    json.dumps(survey_report(rows), allow_nan=False)
    if not rows:
        return
    survey_text(rows)
    row = chance.choice(rows)
    moved = with_frequencies(rig, row.if_hz, row.schemes)
    report(Analysis(with_tank(moved)))
    report(Analysis(new_rig(moved.bands, row.if_hz)))


def _scattered(analysis: Analysis) -> None:
    """A short tolerance run with the project's own scatter."""
    solved, scatter = analysis.ladder_solved, analysis.project.scatter
    if isinstance(solved, Unsolved):
        return
    spreads = Spreads(
        capacitor=scatter.capacitor_tolerance, crystal_hz=scatter.crystal_hz, q=scatter.q_spread
    )
    run = filters.run(solved.design, LADDER, (), spreads, trials=40, points=101)
    if isinstance(run, ToleranceRun):
        assert not np.isnan(run.nominal_db).any()
        for each in run.measured:
            distribution(each.values)


def _printed(rig: Project) -> None:
    from PySide6.QtGui import QGuiApplication

    from app.sheet.pages import write_pdf

    application = QGuiApplication.instance() or QGuiApplication(["soak"])
    with tempfile.TemporaryDirectory() as folder:
        assert write_pdf(rig, Path(folder) / "sheet.pdf") >= 1
    del application
