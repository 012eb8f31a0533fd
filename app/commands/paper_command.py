"""`copperclad sheet` and `report`: what leaves the program, and what is wrong with the design."""

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.commands.terminal import DONE, FAULTS, say, say_json
from app.sheet.content.groups import ALL as SECTIONS
from core.model.values.errors import FileError

if TYPE_CHECKING:
    from core.model.project import Project
    from core.rig.analysis import Analysis


def add(commands: Any) -> None:
    """Tell the command line of these commands."""
    sheet = commands.add_parser("sheet", help="write the build sheet as PDF, or the parts to get as CSV")
    sheet.add_argument("project", type=Path)
    sheet.add_argument("-o", "--output", type=Path, required=True, metavar="FILE.pdf|FILE.csv")
    sheet.add_argument("--paper", choices=("A4", "Letter"), default="A4")
    sheet.add_argument(
        "--sections", nargs="+", choices=SECTIONS, metavar="SECTION", help=f"of: {', '.join(SECTIONS)}"
    )
    _may_be_strict(sheet)
    sheet.set_defaults(run=_sheet)

    report = commands.add_parser("report", help="print every computed figure")
    report.add_argument("project", type=Path)
    report.add_argument("--json", action="store_true", help="as JSON, in SI units")
    _may_be_strict(report)
    report.set_defaults(run=_report)


def _may_be_strict(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--strict", action="store_true", help="exit with 1 when a finding is a fault")


def _strictly(options: argparse.Namespace, analysis: "Analysis") -> int:
    from core.rig.rules import inspect

    faulty = options.strict and any(f.severity == "fault" for f in inspect(analysis))
    return FAULTS if faulty else DONE


def _sheet(options: argparse.Namespace) -> int:
    from app.commands.start_up import missing_library
    from core.model.files import load
    from core.rig.analysis import Analysis

    project = load(options.project)
    if options.output.suffix.lower() == ".csv":
        return _needed(project, options)
    problem = missing_library()
    if problem is not None:
        raise FileError(problem)
    # Paper needs fonts, not a display.
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    from PySide6.QtGui import QGuiApplication

    from app.sheet.pages import Wanted, write_pdf

    application = QGuiApplication.instance() or QGuiApplication(["copperclad"])
    of = Wanted(tuple(options.sections or SECTIONS), options.project)
    pages = write_pdf(project, options.output, options.paper, of=of)
    say(f"{pages} pages written to {options.output}.")
    del application
    return _strictly(options, Analysis(project))


def _needed(project: "Project", options: argparse.Namespace) -> int:
    from core.model.disk import write_whole
    from core.rig.analysis import Analysis
    from core.rig.paper.needed import needed_csv, needed_of

    analysis = Analysis(project)
    lines = needed_of(analysis)
    write_whole(options.output, needed_csv(lines).encode())
    say(f"{sum(line.quantity for line in lines)} parts in {len(lines)} lines written to {options.output}.")
    return _strictly(options, analysis)


def _report(options: argparse.Namespace) -> int:
    from core.model.files import load
    from core.rig.analysis import Analysis
    from core.rig.paper.report import as_text, report

    analysis = Analysis(load(options.project))
    data = report(analysis)
    say_json(data) if options.json else say(as_text(data))
    return _strictly(options, analysis)
