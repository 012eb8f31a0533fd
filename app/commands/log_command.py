"""The command `log`: the bench log of a rig printed, and readings added to it."""

import argparse
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.commands.terminal import say, say_json
from core.model.values.errors import DesignError
from core.model.values.wording import shortened

if TYPE_CHECKING:
    from core.model.measured import MeasuredCurve
    from core.model.notebook.bench_log import LogReading
    from core.model.project import Project
    from core.model.stages.stage import Way
    from core.rig.analysis import Analysis

_HELP = """The bench log of a project: what was read against what is expected.

Without further words what was read is printed, with the causes of what is out. --missing lists what is
expected and was not read yet, each with the code by which a reading is added:

  copperclad log rig.json --add supply/rail "13.6 V" --note "lab supply, 2 A limit"
  copperclad log rig.json --add vfo/covers_low_hz/20m 5.249MHz

--all lists the codes of all that can be read: test points, figures of every stage by their names, and parts.

  copperclad log rig.json --from readings.csv

reads a table with the columns code and reading, and tolerance, date and note where they are there; lines
without a reading are left out. A level may be read in dBm, W, V (rms) or Vpp. A sweep is a reading too,
Touchstone of two ports or CSV with frequency and S21, of a stage, on a band where it has a filter for each,
in a direction where it works in both:

  copperclad log rig.json --curve low_pass/20m swept.s2p"""


def add(commands: Any) -> None:
    """Add the command to those of the program."""
    log = commands.add_parser(
        "log",
        help="print the bench log, or add readings to it",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        description=_HELP,
    )
    log.add_argument("project", type=Path)
    log.add_argument(
        "--add",
        nargs=2,
        action="append",
        default=[],
        metavar=("CODE", "VALUE"),
        help="add a reading and save the project; may be said several times",
    )
    log.add_argument(
        "--from",
        dest="tables",
        type=Path,
        action="append",
        default=[],
        metavar="FILE.CSV",
        help="add the readings of a table and save the project",
    )
    log.add_argument(
        "--curve",
        nargs=2,
        action="append",
        default=[],
        metavar=("STAGE[/BAND]", "FILE"),
        help="add a measured curve and save the project; may be said several times",
    )
    log.add_argument("--plus-minus", default="", metavar="T", help="its tolerance, as 5%% or 0.3V")
    log.add_argument("--note", default="", help="what was done")
    log.add_argument("--date", metavar="DATE", help="day and time; now, where it is left out")
    log.add_argument("--missing", action="store_true", help="list what was not read yet too")
    log.add_argument("--all", action="store_true", help="list the codes of all that can be read")
    log.add_argument("--parts", action="store_true", help="list the codes of parts too")
    log.add_argument("--json", action="store_true", help="as JSON, in SI units")
    log.add_argument("--strict", action="store_true", help="exit with 1 when a reading is out")
    log.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    from core.model.files import load, save
    from core.rig.analysis import Analysis
    from core.rig.built.measured import with_curve
    from core.rig.log.bench_log import bench_log, reading_of
    from core.rig.log.causes import causes_of_all
    from core.rig.log.expected import items
    from core.rig.log.item import found
    from core.rig.log.told import log_report, log_text

    project = load(options.project)
    if options.add:
        known = items(Analysis(project))
        date = _date(options)
        added = tuple(
            reading_of(found(known, code), text, date, plus_minus=options.plus_minus, note=options.note)
            for code, text in options.add
        )
        project = project.edited(("log",), (*project.log, *added))
    for table in options.tables:
        project = project.edited(("log",), (*project.log, *_table(project, table, options)))
    for code, file in options.curve:
        project = with_curve(Analysis(project), _curve(Analysis(project), code, Path(file), options))
    if options.add or options.tables or options.curve:
        save(project, options.project)
    elif options.note or options.plus_minus or options.date:
        raise DesignError("A note, tolerance or date belongs to a reading; name it with --add CODE VALUE.")
    analysis = Analysis(project)
    log = bench_log(analysis)
    why = causes_of_all(analysis, log)
    if options.json:
        say_json(log_report(log, why, missing=options.missing))
    else:
        say(log_text(log, why, missing=options.missing))
        if options.all or options.parts:
            every = (each for each in items(analysis) if options.all or each.about == "part")
            say("\n".join(["", *(f"{each.about:9}{each.title}  [{each.code}]" for each in every)]))
    return int(options.strict and why.any)


def _table(project: "Project", file: Path, options: argparse.Namespace) -> "tuple[LogReading, ...]":
    """The readings in a table."""
    from core.model.disk import read_text
    from core.rig.analysis import Analysis
    from core.rig.log.expected import items
    from core.rig.log.readings_table import MOST_LETTERS, readings_in

    try:
        return readings_in(
            read_text(file, 4 * MOST_LETTERS, "a table of readings"), items(Analysis(project)), _date(options)
        )
    except DesignError as error:
        raise DesignError(f"{file.name}: {error}") from None


def _date(options: argparse.Namespace) -> str:
    return options.date or f"{datetime.now():%Y-%m-%d %H:%M}"


def _curve(analysis: "Analysis", code: str, file: Path, options: argparse.Namespace) -> "MeasuredCurve":
    """The curve in a file as measured of what a code names: stage, band and direction."""
    from core.rig.bench.curve_files import read_curve
    from core.rig.built.measured import bound_to

    stage, *rest = code.split("/")
    ids = [each.id for each in analysis.project.stages]
    bands = [each.name for each in analysis.project.bands]
    ways = [each for each in rest if each in ("receive", "transmit")]
    named = [each for each in rest if each in bands]
    if stage not in ids or len(ways) + len(named) < len(rest) or len(rest) > 2:
        raise DesignError(
            f"There is no {shortened(code)} to have a curve of; write one of {', '.join(ids)}, then /BAND of "
            f"{', '.join(bands)} where it has a filter for each."
        )
    way: Way = "transmit" if ways == ["transmit"] else "receive"
    kept = bound_to(analysis, stage, named[0] if named else bands[0], way)
    if kept[0] and not named:
        raise DesignError(f"{shortened(stage)} has a filter for each band; write {stage}/{kept[0]}, say.")
    read = read_curve(file, stage, *kept)
    if options.date:
        read = read.edited(("date",), options.date)
    return read.edited(("note",), options.note)
