"""The carrier oscillator: where each sideband's carrier lies, how its crystal gets there, what it drives."""

from collections.abc import Callable, Iterator, Sequence

from app.pictures.response import ResponsePicture
from app.pictures.stages import pull
from app.pictures.stages.pull import PullPicture
from app.pictures.stages.speech import audio_of
from app.pictures.told import Line, Told, in_columns, in_rows, line, said, with_heads
from app.state.look import Look
from app.style import words
from core.model.project import Project
from core.record import record
from core.rig.analysis import Analysis
from core.rig.figures.figure import Figure, keyed
from core.rig.figures.levels import BARE, DRIVE, OWN_GAIN, OscillatorOf
from core.rig.figures.plan import BANDS_CARRIER, CARRIER, LIES, CarrierOn, CarrierOnBand
from core.rig.sections.crystal_oscillators import CRYSTAL_OSCILLATOR, oscillators_at
from core.rig.sections.rig import carriers_on
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.outcome import Unsolved

#: Digits that a solved coil is written with: coils are wound, not calculated, to better.
COIL_DIGITS = 3

#: What is told of the oscillator's own level.
LEVEL_TIP = "\n".join(figure.tip for figure in (BARE, OWN_GAIN))


@record(kw_only=True)
class CarrierPicture:
    """Everything the view shows; `short`: a mixer gets too little."""

    band: str
    pull: PullPicture | str
    audio: ResponsePicture | str
    carriers: Told
    bands: Told
    drives: Told
    level: str
    short: bool
    coil_core: str
    circuit: CrystalOscillatorDesign | str


def picture_of(analysis: Analysis, held: Analysis | None, look: Look) -> CarrierPicture | Unsolved:
    """What there is to show of the carrier oscillator, or why there is nothing."""
    project, rows, ladder = analysis.project, analysis.carriers, analysis.ladder
    if not rows or ladder is None:
        place = analysis.carrier(look.band)
        return place if isinstance(place, Unsolved) else Unsolved("No band uses the carrier.")
    drives = tuple(drive for drive in analysis.drives if drive.oscillator == "carrier")
    return CarrierPicture(
        band=words.band(look.band),
        pull=pull.picture_of(analysis),
        audio=audio_of(analysis, held, ladder, look),
        carriers=in_rows(
            ("at the IF", *(row.sideband for row in rows)),
            (*_carrier_lines(carriers_on(analysis)), *_oscillator_lines(analysis)),
        ),
        bands=with_heads(BANDS_CARRIER, _band_rows(analysis)),
        drives=in_columns(DRIVE, drives),
        level=_level(project),
        coil_core=project.carrier.coil_core,
        circuit=_circuit(analysis),
        short=any(each.missing_db > 0 and not each.suits for each in drives),
    )


def _carrier_lines(of: Sequence[CarrierOn]) -> Iterator[Line]:
    """One figure a row, one sideband a column."""
    figure = keyed(CARRIER)
    texts = (", ".join(words.band(name) for name in each.row.bands) for each in of)
    yield said("bands", *texts, tip=figure["bands"].tip)
    yield line(figure["frequency_hz"], *of)
    yield line(LIES, *of)
    yield line(figure["lowest_audio_hz"], *of)
    yield _told(figure["coil_h"], of, _coil)
    yield _told(figure["trimmer_f"], of, _trimmer)
    yield _told(figure["reachable"], of, _reach)
    for key in _DOWN:
        yield line(figure[key], *of)


def _circuit(analysis: Analysis) -> CrystalOscillatorDesign | str:
    """The oscillator's circuit, or why there is none."""
    made = analysis.carrier_circuit
    if made is None:
        return "The oscillator is a block of figures; tick “Circuit” on the left to build it of parts."
    return made.reason if isinstance(made, Unsolved) else made


def _oscillator_lines(analysis: Analysis) -> Iterator[Line]:
    """What an oscillator of parts does on each sideband; nothing of a block."""
    found = [each for each in oscillators_at(analysis) if each.design is analysis.carrier_circuit]
    for figure in CRYSTAL_OSCILLATOR[2:] if found else ():
        yield line(figure, *found)


#: How far what should not leave is down, in this order.
_DOWN = (
    "ladder_suppression_db",
    "carrier_suppression_db",
    "unwanted_sideband_300hz_db",
    "unwanted_sideband_1khz_db",
    "unwanted_sideband_2khz_db",
)


def _told(
    figure: Figure[CarrierOn], of: Sequence[CarrierOn], words_of: Callable[[CarrierOn, str], str]
) -> Line:
    """A figure with what the number alone does not say; nothing of it where there is no crystal."""
    texts = (figure.absent if each.row.pulling is None else words_of(each, figure.text(each)) for each in of)
    return said(figure.title, *texts, tip=figure.tip)


def _coil(of: CarrierOn, text: str) -> str:
    pulling = of.row.pulling
    told = "none" if pulling is None or pulling.coil_h == 0 else text
    return f"{told}, automatic" if of.automatic else told


def _trimmer(of: CarrierOn, text: str) -> str:
    return "out of reach" if of.row.pulling is None or of.row.pulling.trimmer_f is None else text


def _reach(of: CarrierOn, text: str) -> str:
    pulling = of.row.pulling
    if pulling is None or pulling.reachable_high_hz == 0:
        return "nothing: the coil is too large"
    # From zero on, the lower end says nothing.
    return text if pulling.reachable_low_hz else f"up to {text.partition(' to ')[2]}"


def _band_rows(analysis: Analysis) -> Iterator[tuple[str, ...]]:
    for band, plan in zip(analysis.project.bands, analysis.frequency_plan, strict=True):
        of = CarrierOnBand(band, plan, analysis.carrier(band.name))
        yield (words.band(band.name), *(figure.text(of) for figure in BANDS_CARRIER[1:]))


def _level(project: Project) -> str:
    """What the oscillator itself must give, in words."""
    of = OscillatorOf(project, "carrier")
    behind = "without an amplifier of its own"
    if OWN_GAIN.get(of):
        behind = f"with {OWN_GAIN.text(of)} of its own amplifier behind"
    return f"The oscillator itself gives {BARE.text(of)}, {behind}."
