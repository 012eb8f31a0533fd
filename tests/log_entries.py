"""Readings entered in a bench log, and what is told of them."""

from core.rig.analysis import Analysis
from core.rig.log.bench_log import bench_log, reading_of
from core.rig.log.causes import causes
from core.rig.log.expected import items
from core.rig.log.item import found
from core.rig.log.taken import taking
from core.stages.steps import finished

WHEN = "2026-11-26 18:40"


def log_of(project):
    return bench_log(Analysis(project))


def with_reading(project, code, text, **more):
    item = found(items(Analysis(project)), code)
    return project.edited(("log",), (*project.log, reading_of(item, text, WHEN, **more)))


def entry(project, code):
    """What the log tells of the reading of that."""
    return _line(log_of(project), code)


def why(project, code):
    """What would explain the reading of that."""
    analysis = Analysis(project)
    log = bench_log(analysis)
    return finished(causes(analysis, log, _line(log, code)))


def take(project, code):
    """The edit that takes the reading of that into the design, or why there is none."""
    analysis = Analysis(project)
    log = bench_log(analysis)
    return taking(analysis, log, _line(log, code))


def _line(log, code):
    return next(each for each in log.entries if each.item.code == code and each.reading)


def spoilt(rig, stage, key, factor):
    """The rig with one part of a stage off while all others are as they are."""
    analysis = Analysis(rig)
    row = next(each for each in analysis.circuits if each.stage == stage)
    values = {
        p.key: p.fitted
        for p in row.design.parts
        if p.kind in ("capacitor", "inductor", "resistor", "crystal")
    }
    return rig.edited((*row.path, "as_built"), {**values, key: values[key] * factor})
