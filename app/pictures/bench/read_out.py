"""How a simple counter shows the dial on every band, and which schemes were turned down."""

from app.pictures.told import Told, in_columns, in_rows, line
from app.state.look import Look
from app.style import words
from core.model.readout import Counter
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import by_key, keyed
from core.rig.figures.read_out import HELPER, OTHERS, READ_OUT, REFUSED, switching
from core.rig.read_out.plan import Options, ReadOutPlan
from core.rig.rows import OSCILLATORS
from core.rig.sections.crystal_oscillators import CRYSTAL_OSCILLATOR, oscillators_at
from core.rig.sections.rig import shown_on
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.outcome import Unsolved

STEP = keyed(READ_OUT)["resolution_hz"]
_NO_COUNTER = "The rig has no counter; tick “Read-out” on the left to plan one."
#: What the plan's table says of each band.
_FIGURES = by_key(READ_OUT, "scheme", "counted", "filter", "offset_hz", "shows", "error_hz", "programme")


@record
class OtherSchemes:
    """The other schemes of a band, with the helper crystal [Hz] that each takes, and those turned down."""

    band: str
    rows: Told
    helpers_hz: tuple[float | None, ...]
    refused: Told


@record(kw_only=True)
class ReadOutPicture:
    """The plan of all bands, what is switched, and the schemes of the band looked at."""

    title: str
    plan: Told
    switching: str
    others: OtherSchemes | None
    helper: tuple[Told, CrystalOscillatorDesign] | str
    #: Whether a helper crystal was chosen, so that the choice can be left to the plan again.
    chosen: bool


def picture_of(analysis: Analysis, look: Look) -> ReadOutPicture | str:
    """What the page shows; a sentence when the rig has no counter."""
    plan, asked = analysis.read_out, analysis.project.read_out
    if plan is None or asked is None:
        return _NO_COUNTER
    option = next((each for each in analysis.read_out_options if each.band == look.band), None)
    helper = "" if plan.helper_hz is None else f", helper crystal {HELPER.text(plan)}"
    return ReadOutPicture(
        title=f"What each band shows, in steps of {STEP.written(plan.resolution_hz)}{helper}",
        plan=in_rows(
            ("", *(words.band(row.band) for row in plan.bands)),
            (line(figure, *shown_on(analysis)) for figure in _FIGURES),
        ),
        switching=_switching(plan, asked.counter),
        others=None if option is None else _others(option),
        helper=_helper(analysis),
        chosen=(asked.helper_measured_hz or asked.helper_hz) is not None,
    )


def _helper(analysis: Analysis) -> tuple[Told, CrystalOscillatorDesign] | str:
    """Figures and circuit of the helper; a sentence, empty where there is none, in their place."""
    made = analysis.helper_circuit
    if made is None or isinstance(made, Unsolved):
        return "" if made is None else made.reason
    found = [each for each in oscillators_at(analysis) if each.design is made]
    return in_rows(("", OSCILLATORS["helper"]), (line(each, *found) for each in CRYSTAL_OSCILLATOR[2:])), made


def _switching(plan: ReadOutPlan, counter: Counter) -> str:
    reasons = [
        f"{words.band(r.band)}: {r.reading.reason}" for r in plan.bands if isinstance(r.reading, Unsolved)
    ]
    return "\n".join([*switching(plan, counter), *reasons])


def _others(option: Options) -> OtherSchemes:
    return OtherSchemes(
        words.band(option.band),
        in_columns(OTHERS, option.alternatives),
        tuple(r.helper_hz for r in option.alternatives),
        in_columns(REFUSED, option.refused),
    )
