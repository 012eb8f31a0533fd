"""The command `crystals`: a table of readings worked out, placed in a ladder, and a ladder made for them."""

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.commands.terminal import say, say_json
from app.commands.typed import quantity
from core.model.values.errors import DesignError
from core.model.values.notation import format_value
from core.model.values.quantities import Farad, Ohm

if TYPE_CHECKING:
    from core.model.project import Project
    from core.rig.bench.crystal_bench import BatchRow

#: The methods of the crystal bench; spelled here too, so that --help needs no computing module.
_METHODS = ("bandwidth", "series_capacitor", "parallel_capacitor", "sweep")
#: Words of the options to those of the model.
_ZERO = {"wire": "wire", "power": "available_power"}
_BETWEEN = {"file": "of_file", "fixture": "of_fixture"}

_HELP = """Motional parameters of a batch of crystals from a table of readings.

READINGS.csv has a header row; a unit may stand in brackets, as in "peak (MHz)"; a decimal comma is
accepted where columns are parted by semicolons. Columns, those in brackets may be missing:
  bandwidth           label, peak, bandwidth, loss, [c0]
  series-capacitor    label, without, with, [c0]      oscillator without and with --capacitor in series
  parallel-capacitor  label, series, parallel, [with], [loss], [c0]
                      parallel resonance, and with --capacitor across; the loss at the peak gives Rm
  sweep               label, file, [c0]               Touchstone or CSV (frequency, S21, [phase])
A sweep lies between the resistances that its Touchstone file states, or, where it states none and with
--between fixture, between --source and --load. Its 0 dB is a wire in the crystal's place or, with
--zero power, the available power; between equal resistances both are the same."""


def add(commands: Any) -> None:
    """Add the command to those of the program."""
    crystals = commands.add_parser(
        "crystals",
        help="work out a batch of measured crystals",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        description=_HELP,
    )
    crystals.add_argument("readings", type=Path, metavar="READINGS.csv")
    crystals.add_argument("--method", required=True, choices=[name.replace("_", "-") for name in _METHODS])
    crystals.add_argument("--source", default="50", metavar="R", help="source resistance at the crystal")
    crystals.add_argument("--load", default="50", metavar="R", help="load resistance at the crystal")
    crystals.add_argument(
        "--capacitor", default="33p", metavar="C", help="capacitor of the capacitor methods"
    )
    crystals.add_argument("--oscillator-load", metavar="C", help="load capacitance of the oscillator itself")
    crystals.add_argument(
        "--c0", default="3.5p", metavar="C", help="holder capacitance, where no column gives it"
    )
    crystals.add_argument(
        "--between", choices=_BETWEEN, default="file", help="whose resistances stand at a swept crystal"
    )
    crystals.add_argument("--zero", choices=_ZERO, default="wire", help="what 0 dB of a sweep stands for")
    crystals.add_argument("--choose", type=int, metavar="N", help="choose and place N crystals; needs --for")
    crystals.add_argument(
        "--for", dest="project", type=Path, metavar="PROJECT", help="the ladder they are for"
    )
    crystals.add_argument(
        "-o",
        dest="output",
        type=Path,
        metavar="FILE.json",
        help="write the rig with ladder and IF made for the best crystals; needs --for",
    )
    crystals.add_argument("--json", action="store_true")
    crystals.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    from core.model.bench import CrystalBatch
    from core.model.disk import read_text
    from core.model.files import save
    from core.rig.analysis import Analysis
    from core.rig.bench import crystal_bench, crystals_in_ladder
    from core.rig.paper.report import crystals_report, crystals_text
    from core.stages.outcome import Unsolved

    text = read_text(options.readings, crystal_bench.LARGEST_TABLE_BYTES, "a table of readings")
    own = options.oscillator_load
    method = options.method.replace("-", "_")
    fixture = CrystalBatch.checked(
        method=method,
        source_ohm=quantity(options.source, "--source", Ohm),
        load_ohm=quantity(options.load, "--load", Ohm),
        capacitor_f=quantity(options.capacitor, "--capacitor", Farad),
        oscillator_load_f=None if own is None else quantity(own, "--oscillator-load", Farad),
        c0_f=quantity(options.c0, "--c0", Farad),
        sweep_resistances=_BETWEEN[options.between],
        sweep_zero=_ZERO[options.zero],
    )
    refused: dict[str, str] = {}
    asked = crystal_bench.with_readings(fixture, text)
    if method == "sweep":
        asked, refused = crystal_bench.with_sweeps(asked, options.readings.parent)
    batch = crystal_bench.batch_of(asked, refused)
    project, placement = _asked_project(options), None
    made: Project | None = None
    if project is not None:
        analysis = Analysis(project)
        ladder = analysis.ladder
        assert ladder is not None  # _asked_project refuses a rig without one
        found = crystals_in_ladder.place(batch, analysis.asked(ladder))
        if isinstance(found, Unsolved):
            raise DesignError(found.reason)
        placement = found
        if options.output is not None:
            rig = crystals_in_ladder.designed_for(project, ladder.id, batch)
            if isinstance(rig, Unsolved):
                raise DesignError(rig.reason)
            made = rig.edited(("crystal_batch",), asked)
            save(made, options.output)
    data = crystals_report(batch, placement)
    if made is not None:
        data["designed"] = _designed(made, batch)
    if options.json:
        say_json(data)
        return 0
    say(crystals_text(data))
    if made is not None:
        say(f"\n{options.output}: {_sentence(data['designed'])}")
    return 0


def _asked_project(options: argparse.Namespace) -> "Project | None":
    """The rig that the crystals are for, its ladder of as many crystals as are asked; None for none."""
    from core.model.files import load
    from core.rig.analysis import Analysis

    if options.project is None:
        if options.choose is None and options.output is None:
            return None
        raise DesignError("Crystals are chosen for a ladder; name its project with --for.")
    project = load(options.project)
    ladder = Analysis(project).ladder
    if ladder is None:
        raise DesignError(f"{options.project.name} has no ladder filter in its path; add one.")
    if options.choose is None:
        return project
    more = sum(map(len, ladder.crystal_refs)) - ladder.poles
    return project.edited(("stages", ladder.id, "poles"), options.choose - more)


def _designed(made: "Project", batch: "Sequence[BatchRow]") -> dict[str, Any]:
    """The ladder made for the crystals, as plain data; None: not known."""
    from core.rig.analysis import Analysis
    from core.rig.bench import crystals_in_ladder
    from core.stages.outcome import Unsolved

    analysis = Analysis(made)
    ladder = analysis.ladder
    assert ladder is not None  # it was made
    assert ladder.crystal is not None
    found = analysis.filter_figures(ladder.id, made.bands[0].name)
    figures = None if isinstance(found, Unsolved) else found
    stand = crystals_in_ladder.fitted(batch, analysis.asked(ladder))
    return {
        "if_hz": made.if_hz,
        "lm_h": ladder.crystal.motional_inductance_h,
        "c0_f": ladder.crystal.holder_capacitance_f,
        "q": ladder.crystal.quality_factor,
        "loss_db": figures and figures.insertion_loss_db,
        "width_3db_hz": figures and figures.bandwidth_3db_hz,
        "crystals": {each.ref: each.label for each in stand},
    }


def _sentence(designed: dict[str, Any]) -> str:
    """What was written, in words."""
    stand = ", ".join(f"{ref} {label}" for ref, label in designed["crystals"].items())
    figures = ""
    if designed["loss_db"] is not None and designed["width_3db_hz"] is not None:
        figures = f"; loss {designed['loss_db']:.1f} dB, −3 dB width {designed['width_3db_hz']:.0f} Hz"
    return (
        f"ladder and IF made for the crystals, IF {format_value(designed['if_hz'], 'Hz', 7)}, "
        f"Lm {format_value(designed['lm_h'], 'H', 3)}{figures}; {stand}."
    )
