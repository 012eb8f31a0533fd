"""Readings entered in a bench log, and what is told of them."""

from core.rig.analysis import Analysis
from core.rig.log.bench_log import bench_log, reading_of
from core.rig.log.causes import causes
from core.rig.log.expected import items
from core.rig.log.item import found
from core.stages.steps import finished

WHEN = "2026-11-26 18:40"


def log_of(project):
    return bench_log(Analysis(project))


def with_reading(project, code, text, **more):
    item = found(items(Analysis(project)), code)
    return project.edited(("log",), (*project.log, reading_of(item, text, WHEN, **more)))


def entry(project, code):
    return next(each for each in log_of(project).entries if each.item.code == code and each.reading)


def why(project, code):
    analysis = Analysis(project)
    log = bench_log(analysis)
    line = next(each for each in log.entries if each.item.code == code and each.reading)
    return finished(causes(analysis, log, line))
