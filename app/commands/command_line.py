"""The command line: every figure without a display."""

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from app.commands import board_command, crystal_command, log_command
from app.commands.terminal import prepare, say, say_json
from app.commands.typed import quantity
from app.sheet.content.groups import ALL as SECTIONS
from core.model.bands import Band
from core.model.values.errors import CopperError, DesignError, FileError
from core.model.values.quantities import Hertz, Ohm, spelled

if TYPE_CHECKING:
    from core.model.project import Project

DONE, FAULTS, BAD_INPUT = 0, 1, 2
_COMMANDS = (
    "sheet",
    "board",
    "report",
    "survey",
    "new",
    "response",
    "netlist",
    "crystals",
    "log",
    "vfo",
    "schema",
    "screens",
)


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence instead of printing the usage."""

    def error(self, message: str) -> NoReturn:
        raise DesignError(f"{message[:1].upper()}{message[1:]}; “{self.prog} --help” tells what can be said.")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code: 0 done, 1 faults found with --strict, 2 bad input."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    prepare()
    try:
        if words and words[0] in _COMMANDS:
            options = _command_parser().parse_args(words)
            return int(options.run(options))
        return _open_window(_window_parser().parse_args(words))
    except CopperError as error:
        print(f"copperclad: {error}", file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        # The reader of our output has gone; leave quietly, without a second complaint at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except KeyboardInterrupt:
        return 130


def _window_parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="copperclad",
        description="Design, compute, document and bring up a home-built single-conversion SSB transceiver.",
        epilog=f"Commands, each with a --help of its own: {', '.join(_COMMANDS)}.",
    )
    parser.add_argument("project", nargs="?", type=Path, help="project file to open; without one, the sample")
    return parser


def _command_parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="copperclad")
    commands = parser.add_subparsers(dest="command", required=True, parser_class=_Parser)

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

    survey = commands.add_parser("survey", help="rank crystals and mixing schemes for some bands")
    survey.add_argument(
        "--bands", nargs="+", required=True, metavar="BAND", help="20m 12m, or 20m:14.1MHz-14.35MHz"
    )
    survey.add_argument("--max-vfo", metavar="F", help="highest VFO frequency, e.g. 8MHz")
    survey.add_argument("--order", type=int, default=9, help="highest order of products looked at (2 to 15)")
    survey.add_argument("--json", action="store_true")
    survey.set_defaults(run=_survey)

    new = commands.add_parser("new", help="write the rig of the best survey row")
    new.add_argument("--bands", nargs="+", required=True, metavar="BAND")
    new.add_argument("--crystal", metavar="F", help="the best row with this crystal, e.g. 19.6608MHz")
    new.add_argument("-o", "--output", type=Path, required=True, metavar="FILE.json")
    new.set_defaults(run=_new)

    response = commands.add_parser("response", help="write the two-port response of a filter or an amplifier")
    response.add_argument("project", type=Path)
    response.add_argument("stage", help="the stage's key in the file, e.g. ladder")
    response.add_argument("-o", "--output", type=Path, required=True, metavar="FILE.s2p|FILE.csv")
    response.add_argument("--band", help="the band whose filter is meant; the first one otherwise")
    response.add_argument("--from", dest="low", metavar="F", help="lowest frequency")
    response.add_argument("--to", dest="high", metavar="F", help="highest frequency")
    response.add_argument("--points", type=int, default=401, help="number of points (2 to 100000)")
    response.add_argument(
        "--reference", metavar="R", help="reference resistance; its design resistances otherwise"
    )
    response.add_argument(
        "--way",
        choices=("receive", "transmit"),
        default="receive",
        help="the direction in which a bilateral amplifier is fed",
    )
    response.set_defaults(run=_response)

    crystal_command.add(commands)
    board_command.add(commands)
    log_command.add(commands)

    netlist = commands.add_parser("netlist", help="write a circuit as a netlist for a simulator")
    netlist.add_argument("project", type=Path)
    netlist.add_argument("stage", help="key in the file of a stage that has a circuit, e.g. ladder; or vfo")
    netlist.add_argument("-o", "--output", type=Path, required=True, metavar="FILE.cir")
    netlist.add_argument("--band", help="the band whose circuit is meant; the first one otherwise")
    netlist.add_argument(
        "--way",
        choices=("receive", "transmit"),
        default="receive",
        help="the direction in which a bilateral amplifier is fed and driven",
    )
    netlist.set_defaults(run=_netlist)

    vfo = commands.add_parser("vfo", help="print the VFO's figures, or solve its parts")
    vfo.add_argument("project", type=Path)
    vfo.add_argument(
        "--solve", action="store_true", help="find the parts anew and tell what was fixed and what found"
    )
    vfo.add_argument(
        "-o", "--output", type=Path, metavar="FILE.json", help="write the project with the solved parts"
    )
    vfo.set_defaults(run=_vfo)

    schema = commands.add_parser("schema", help="print the JSON Schema of project files")
    schema.set_defaults(run=_schema)

    screens = commands.add_parser("screens", help="render every view to PNG, light and dark")
    screens.add_argument("project", type=Path)
    screens.add_argument("folder", type=Path, metavar="OUT_DIR")
    screens.set_defaults(run=_screens)
    return parser


def _may_be_strict(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--strict", action="store_true", help="exit with 1 when a finding is a fault")


def _open_window(options: argparse.Namespace) -> int:
    import gc

    # What is imported from here on stays for good; collecting amid it costs a fifteenth of the start.
    gc.disable()
    from app.commands.start_up import problem_with_display
    from core.model.files import load
    from core.model.samples import sample_path

    # The file first: a wrong name deserves its own sentence, display or not.
    project = load(options.project or sample_path())
    problem = problem_with_display()
    if problem is not None:
        raise FileError(problem)
    # What computes before what shows: once Qt is imported, it reads the source of everything imported later.
    import core.rig.analysis  # noqa: F401
    from app.window.start import open_window

    # The sample is opened without its file, so that Save asks for a name and leaves the sample as it is.
    return open_window(project, options.project and options.project.absolute())


def _strictly(options: argparse.Namespace, project_faulty: bool) -> int:
    return FAULTS if options.strict and project_faulty else DONE


def _sheet(options: argparse.Namespace) -> int:
    from app.commands.start_up import missing_library
    from core.model.files import load
    from core.rig.analysis import Analysis
    from core.rig.rules import inspect

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
    return _strictly(options, any(f.severity == "fault" for f in inspect(Analysis(project))))


def _needed(project: "Project", options: argparse.Namespace) -> int:
    from core.model.disk import write_whole
    from core.rig.analysis import Analysis
    from core.rig.paper.needed import needed_csv, needed_of
    from core.rig.rules import inspect

    analysis = Analysis(project)
    lines = needed_of(analysis)
    write_whole(options.output, needed_csv(lines).encode())
    say(f"{sum(line.quantity for line in lines)} parts in {len(lines)} lines written to {options.output}.")
    return _strictly(options, any(f.severity == "fault" for f in inspect(analysis)))


def _report(options: argparse.Namespace) -> int:
    from core.model.files import load
    from core.rig.analysis import Analysis
    from core.rig.paper.report import as_text, report
    from core.rig.rules import inspect

    analysis = Analysis(load(options.project))
    data = report(analysis)
    say_json(data) if options.json else say(as_text(data))
    return _strictly(options, any(f.severity == "fault" for f in inspect(analysis)))


def _survey(options: argparse.Namespace) -> int:
    from core.rig.paper.report import survey_report, survey_text
    from core.rig.survey.if_survey import survey
    from core.trade.crystals import stock

    if not 2 <= options.order <= 15:
        raise DesignError(f"An order of {options.order} cannot be surveyed; give one from 2 to 15.")
    most = None if options.max_vfo is None else quantity(options.max_vfo, "--max-vfo", Hertz)
    crystals = [each.frequency_hz for each in stock()]
    rows = survey(_bands(options.bands), crystals, order=options.order, max_vfo_hz=most)
    if options.json:
        say_json(survey_report(rows))
    elif rows:
        say(survey_text(rows))
    else:
        say("No crystal in stock gives these bands a VFO within the limits; raise --max-vfo or change bands.")
    return DONE


def _new(options: argparse.Namespace) -> int:
    from core.model.files import save
    from core.rig.start.new_rig import new_rig
    from core.rig.survey.if_survey import survey, verdict
    from core.trade.crystals import stock

    bands = _bands(options.bands)
    crystals = [each.frequency_hz for each in stock()]
    if options.crystal is not None:
        crystals = [quantity(options.crystal, "--crystal", Hertz)]
    rows = survey(bands, crystals)
    if not rows:
        what = f"a crystal of {options.crystal}" if options.crystal else "any crystal in stock"
        raise DesignError(
            f"No mixing scheme gives these bands a usable VFO with {what}; choose another crystal."
        )
    advice = verdict(rows)
    if advice is not None:
        print(advice)
    best = rows[0]
    schemed = [band.edited(("scheme",), scheme) for band, scheme in zip(bands, best.schemes, strict=True)]
    save(
        new_rig(schemed, best.if_hz, f"Rig for {', '.join(spelled(band.name) for band in bands)}"),
        options.output,
    )
    say(f"{options.output}: IF {best.crystal}, {'; '.join(best.reasons)}.")
    return DONE


def _response(options: argparse.Namespace) -> int:
    from core.model.disk import write_whole
    from core.model.files import load
    from core.rig.analysis import Analysis
    from core.rig.paper.export import response_of

    project = load(options.project)
    low = None if options.low is None else quantity(options.low, "--from", Hertz)
    high = None if options.high is None else quantity(options.high, "--to", Hertz)
    reference = None if options.reference is None else quantity(options.reference, "--reference", Ohm)
    form = options.output.suffix.lower().removeprefix(".")
    if form not in ("s2p", "csv"):
        raise DesignError(f"{options.output} is neither Touchstone nor CSV; end its name in .s2p or .csv.")
    if not 2 <= options.points <= 100_000:
        raise DesignError(f"A response of {options.points} points cannot be written; give 2 to 100000.")
    text = response_of(
        Analysis(project),
        options.stage,
        options.band or project.bands[0].name,
        (low, high),
        options.points,
        reference_ohm=reference,
        form=form,
        way=options.way,
    )
    write_whole(options.output, text.encode())
    return DONE


def _netlist(options: argparse.Namespace) -> int:
    from core.model.disk import write_whole
    from core.model.files import load
    from core.rig.analysis import Analysis
    from core.rig.paper.export import netlist_of

    project = load(options.project)
    text = netlist_of(Analysis(project), options.stage, options.band or project.bands[0].name, options.way)
    write_whole(options.output, text.encode())
    return DONE


def _vfo(options: argparse.Namespace) -> int:
    from core.model.files import load, save
    from core.rig.analysis import Analysis
    from core.rig.paper.report import vfo_text
    from core.rig.start.new_rig import with_tank
    from core.rig.tuning import anew, kept
    from core.stages.outcome import Unsolved

    project = load(options.project)
    if options.output is not None and not options.solve:
        raise DesignError("Parts are written only when they are solved; add --solve.")
    if options.solve:
        if project.vfo.tank is None:
            project = with_tank(project)
        if project.vfo.tank is not None:
            project = project.edited(("vfo", "tank"), anew(project.vfo.tank))
    made = Analysis(project).tank
    if made is None:
        raise DesignError(f"The VFO of {options.project.name} has no tank yet; --solve gives it one.")
    if isinstance(made, Unsolved):
        raise DesignError(made.reason)
    say(vfo_text(Analysis(project), made))
    if options.output is not None:
        save(project.edited(("vfo", "tank"), kept(made)), options.output)
        say(f"\nThe project with these parts is written to {options.output}.")
    return DONE


def _schema(options: argparse.Namespace) -> int:
    from core.model.project import Project

    say_json(Project.model_json_schema())
    return DONE


def _screens(options: argparse.Namespace) -> int:
    from app.commands.start_up import missing_library
    from core.model.files import load

    project = load(options.project)
    problem = missing_library()
    if problem is not None:
        raise FileError(problem)
    from app.commands.screens import render

    for file in render(project, options.folder):
        say(str(file))
    return DONE


def _bands(names: Sequence[str]) -> tuple[Band, ...]:
    """Bands by name, on their phone segments, or with edges of one's own: `20m:14.1MHz-14.35MHz`.

    With edges the name may be any.
    """
    from core.trade.allocations import allocation, allocations, usual_sideband

    bands: list[Band] = []
    for text in names:
        name, _, edges = text.partition(":")
        known = allocation(name)
        if edges:
            ends = edges.split("-")
            if len(ends) != 2:
                raise DesignError(f"“{text}” is no band with edges; write it like 20m:14.1MHz-14.35MHz.")
            low, high = (quantity(end, name, Hertz) for end in ends)
        elif known is not None:
            low, high = known.phone_hz
        else:
            every = ", ".join(each.band for each in allocations())
            raise DesignError(
                f"There is no band {name}; the bands are {every}. Another one takes edges, like "
                f"{name}:50.1MHz-50.5MHz."
            )
        sideband = usual_sideband(low) if known is None else known.sideband
        if any(band.name == name for band in bands):
            raise DesignError(f"The band {name} stands twice; name each band once.")
        bands.append(Band.checked(name=name, low_hz=low, high_hz=high, sideband=sideband))
    if len(bands) > 4:
        raise DesignError(f"A rig has at most four bands; leave out {len(bands) - 4}.")
    return tuple(bands)
