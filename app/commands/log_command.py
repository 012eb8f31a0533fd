"""The command `log`: the bench log of a rig printed, and readings added to it."""

import argparse
from datetime import datetime
from pathlib import Path
from typing import Any

from app.commands.terminal import say, say_json
from core.model.values.errors import DesignError

_HELP = """The bench log of a project: what was read against what is expected.

Without further words what was read is printed, with the causes of what is out. --missing lists what is
expected and was not read yet, each with the code by which a reading is added:

  copperclad log rig.json --add supply/rail "13.6 V" --note "lab supply, 2 A limit"
  copperclad log rig.json --add vfo/covers_low_hz/20m 5.249MHz

A level may be read in dBm, W, V (rms) or Vpp."""


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
    log.add_argument("--plus-minus", default="", metavar="T", help="its tolerance, as 5%% or 0.3V")
    log.add_argument("--note", default="", help="what was done")
    log.add_argument("--date", metavar="DATE", help="day and time; now, where it is left out")
    log.add_argument("--missing", action="store_true", help="list what was not read yet too")
    log.add_argument("--parts", action="store_true", help="list the codes of parts too")
    log.add_argument("--json", action="store_true", help="as JSON, in SI units")
    log.add_argument("--strict", action="store_true", help="exit with 1 when a reading is out")
    log.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    from core.model.files import load, save
    from core.rig.analysis import Analysis
    from core.rig.log.bench_log import bench_log, reading_of
    from core.rig.log.causes import causes_of_all
    from core.rig.log.expected import items
    from core.rig.log.item import found
    from core.rig.log.told import log_report, log_text

    project = load(options.project)
    if options.add:
        known = items(Analysis(project))
        date = options.date or f"{datetime.now():%Y-%m-%d %H:%M}"
        added = tuple(
            reading_of(found(known, code), text, date, plus_minus=options.plus_minus, note=options.note)
            for code, text in options.add
        )
        project = project.edited(("log",), (*project.log, *added))
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
        if options.parts:
            parts = [each for each in items(analysis) if each.about == "part"]
            say("\n".join(["", *(f"{'part':9}{each.title}  [{each.code}]" for each in parts)]))
    return int(options.strict and bool(why))
