"""What mends a stage that asks too much of its transistor, another one first, for `remedy.py` to try."""

from collections.abc import Iterator
from math import floor

from core.model.stages.kinds import Stage
from core.model.values.notation import format_value, significant
from core.rig.analysis import Analysis
from core.rig.circuits import member_on
from core.rig.findings import Edit, Finding
from core.rig.remedies import parts
from core.stages.amplifiers.figures import AmplifierFigures, figures
from core.stages.amplifiers.pair import amplifiers_in
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved
from core.stages.transistors import transistor
from core.trade.devices import devices

#: Gains that are missed by less are as good as each other, dB.
_ALIKE_DB = 0.5
#: Supplies that a stage may be fed with, V.
_SUPPLIES_V = (12.0, 9.0, 8.0, 6.0, 5.0)
#: Current is raised by so much [-], gain lowered by so many decibels at most.
_MORE, _LESS_DB = (1.3, 1.6, 2.0, 2.5, 3.0), 16


def another(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Every transistor that the stage can be made of: those first with which it has the gain asked, and of
    them those that make least noise; one that it draws no figures of in the table's order.
    """
    stage = analysis.project.stage(finding.stage)
    now = getattr(stage, "device", None)
    if now is None:
        return
    names = [own.name for own in analysis.project.transistors] + list(devices())
    worth = []
    for place, name in enumerate(names):
        changed = None if name == now else stage.tried(("device",), name)
        missed = None if changed is None else _missed(analysis, changed)
        if missed is not None:
            worth.append((*missed, place, name))
    for *_, name in sorted(worth):
        row = transistor(name, analysis.project.transistors)
        spelled = name if isinstance(row, Unsolved) else row.name
        yield Edit(f"Build {stage.name} of {spelled}", ((("stages", stage.id, "device"), name),))


def reached(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """For a gain that cannot be had: a transistor with which it can, more current, then less gain; only what
    the stage can be made so.
    """
    yield from another(analysis, finding)
    stage = analysis.project.stage(finding.stage)
    now_a, gain_db = (float(stage.at((field,))) for field in ("current_a", finding.path[-1]))
    changes: list[tuple[str, str, float]] = []
    for times in _MORE:
        current_a = significant(now_a * times, 2)
        changes.append((f"Give {stage.name} {format_value(current_a, 'A', 2)}", "current_a", current_a))
    for less_db in range(1, _LESS_DB + 1):
        asked_db = floor(gain_db) - less_db + 1.0
        changes.append((f"Ask {asked_db:g} dB of {stage.name}", str(finding.path[-1]), asked_db))
    for label, field, value in changes:
        changed = stage.tried((field,), value)
        if changed is not None and changed != stage and _missed(analysis, changed) is not None:
            yield Edit(label, ((("stages", stage.id, field), value),))


def cooler(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """A larger transistor, which keeps what was asked, then less current."""
    yield from another(analysis, finding)
    yield from parts.cooler(analysis, finding)


def less_swing(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """A transistor that bears more, then a lower supply, then less current."""
    yield from another(analysis, finding)
    path = ("stages", finding.stage, "supply_v")
    name, now = analysis.project.stage(finding.stage).name, analysis.project.at(path)
    for volt in _SUPPLIES_V:
        if volt < now:
            yield Edit(f"Feed {name} with {volt:g} V", ((path, volt),))
    yield from parts.cooler(analysis, finding)


def _missed(analysis: Analysis, stage: Stage) -> tuple[float, float] | None:
    """By how much a stage misses the gain asked [dB], in steps, and its noise figure [dB]; None where it
    cannot be made so.
    """
    making, member = kind_of(stage).making, member_on(stage, analysis.project.bands[0].name)
    if making is None or isinstance(member, Unsolved):
        return None
    made = making.design(member.asked, analysis.surroundings)
    if isinstance(made, Unsolved):
        return None
    missed = noise = 0.0
    for each in amplifiers_in(made):
        found = figures(each, each.asked_at_hz)
        if not isinstance(found, AmplifierFigures):
            return None
        asked_db = found.gain_db if each.asked_db is None else each.asked_db
        missed = max(missed, abs(found.gain_db - asked_db))
        noise = max(noise, found.noise_figure_db)
    return round(missed / _ALIKE_DB), noise
