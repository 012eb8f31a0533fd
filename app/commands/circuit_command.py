"""`copperclad response`, `netlist` and `vfo`: a response, a circuit for a simulator, the VFO's parts."""

import argparse
from pathlib import Path
from typing import Any

from app.commands.terminal import DONE, say
from app.commands.typed import quantity
from core.model.values.errors import DesignError
from core.model.values.quantities import Hertz, Ohm


def add(commands: Any) -> None:
    """Tell the command line of these commands."""
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

    netlist = commands.add_parser("netlist", help="write a circuit as a netlist for a simulator")
    netlist.add_argument("project", type=Path)
    netlist.add_argument(
        "stage",
        help="key in the file of a stage that has a circuit, e.g. ladder; or vfo, carrier, helper, supply",
    )
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
