"""Figures of the stages as they are printed, and of each the three that are measured once it is soldered."""

from typing import TypeVar, get_args

from core.model.project import Stage
from core.model.stages.stage import Way
from core.rig.amplifier_facts import amplifier_facts
from core.rig.analysis import Analysis
from core.rig.audio.facts import audio_facts
from core.rig.audio.figures import AUDIO_STAGE
from core.rig.figures.amplifiers import AT_REST, told
from core.rig.figures.crystals import MEASURED, measured_of
from core.rig.figures.figure import Table, by_key
from core.rig.figures.filters import FILTER, KNOWN_BY, FilterOn
from core.rig.figures.levels import BLOCK, block_on
from core.rig.figures.mixers import MIXER
from core.rig.figures.parts import part_value
from core.rig.mixer_facts import mixer_facts
from core.rig.power.facts import power_facts
from core.rig.rows import CircuitRow
from core.rig.sections.power import on_paper as power_on_paper
from core.stages.kinds.table import kind_of
from core.stages.outcome import Design, Unsolved

T = TypeVar("T")
WAYS: tuple[Way, ...] = get_args(Way)


def texts(table: Table[T], of: T) -> tuple[tuple[str, str], ...]:
    """Figures of a result that exist, as (name, text)."""
    return tuple((figure.title, figure.text(of)) for figure in table if figure.get(of) is not None)


#: Which figures of a stage are measured once it is soldered, the first three that it has; those in one row
#: tell the same of different stages. Common practice, no source.
_VERIFIED: tuple[tuple[str, ...], ...] = (
    ("largest output", "largest power"),
    ("width at −6 dB", "width at −3 dB"),
    ("loss on the band", "least loss"),
    ("gain", "voltage gain", "conversion gain"),
    ("ripple", "return loss on the bands served"),
    ("balance, as trimmed", "oscillator isolation"),
    ("idle current", "taken from the supply", "current at rest"),
    ("1 dB compression, output, ±0.5 dB", "1 dB compression, output", "1 dB compression, input"),
    ("supply, full power", "drive"),
    ("resistance from end to end",),
    ("noise figure",),
    ("input impedance",),
    ("output impedance",),
)


def verify(figures: tuple[tuple[str, str], ...]) -> tuple[tuple[str, str], ...]:
    """The three figures of a stage that are measured once it is soldered."""
    # Of a bilateral stage each figure stands there twice.
    plain = [
        (name.removesuffix(", receive").removesuffix(", transmit"), name, text) for name, text in figures
    ]
    titles = {title for title, _, _ in plain}
    found: list[tuple[str, str]] = []
    for alike in _VERIFIED:
        first = next((title for title in alike if title in titles), None)
        found += [(name, text) for title, name, text in plain if title == first]
    return tuple(found[:3])


def of_its_kind(analysis: Analysis, row: CircuitRow) -> tuple[tuple[str, str], ...]:
    """Figures of a stage of audio, of a power amplifier, or of whatever stands in the path."""
    stage, band = analysis.project.stage(row.stage), analysis.project.bands[0].name
    if kind_of(stage).driver(stage) is not None:
        mixes = mixer_facts(analysis, stage, band)
        return () if isinstance(mixes, Unsolved) else texts(MIXER, mixes)
    heard, sends = audio_facts(analysis, stage, band), power_facts(analysis, stage)
    if not isinstance(heard, Unsolved):
        return texts(AUDIO_STAGE, heard)
    if not isinstance(sends, Unsolved):
        return power_on_paper(sends)
    return in_its_place(analysis, stage, row.design)


def in_its_place(
    analysis: Analysis, stage: Stage, design: Design | Unsolved | None
) -> tuple[tuple[str, str], ...]:
    """Figures of a stage at its place in the path, and of what turns there its resistance."""
    bands, told = analysis.project.bands, tuple[tuple[str, str], ...]()
    if design is not None and not isinstance(design, Unsolved):
        turned = (row for row in design.parts if row.role == "potentiometer")
        told = tuple(("resistance from end to end", part_value(each.fitted, each.unit)) for each in turned)
    for way in WAYS:
        path = [each.id for each in analysis.project.path(way)]
        if stage.id in path:
            block = block_on(analysis, path.index(stage.id), bands[0].name, way, bands[0].centre_hz)
            ends = (("input", block.block.input_ohm), ("output", block.block.output_ohm))
            seen = tuple((f"{end} impedance", part_value(abs(ohm), "Ω")) for end, ohm in ends)
            return (*told, *texts(BLOCK, block), *seen)
    return told


#: What is printed of a filter, without what it has not.
_FILTER_PRINTED = by_key(FILTER, *KNOWN_BY, "end_resistance_ohm")


def filter_figures(of: FilterOn) -> tuple[tuple[str, str], ...]:
    """Figures of a filter on a band, but those that it has not."""
    return texts(_FILTER_PRINTED, of)


def measured(row: CircuitRow, analysis: Analysis) -> tuple[tuple[str, str], ...]:
    """What its measured curve tells of a stage; empty where there is none."""
    verdict, off, told = by_key(MEASURED, "verdict", "against_expected", "told")
    band = row.bands[0] if row.bands else ""
    return tuple(
        pair
        for each in measured_of(analysis, row.stage, band)
        for pair in (
            ("measured curve", f"{verdict.text(each)}: {off.text(each)}"),
            (told.title, told.text(each)),
        )
    )


def amplifier(analysis: Analysis, row: CircuitRow, way: Way | None) -> tuple[tuple[str, str], ...]:
    """Figures of an amplifier of parts, and what to measure at each transistor before a signal is put in."""
    stage, band = analysis.project.stage(row.stage), analysis.project.bands[0].name
    facts = amplifier_facts(analysis, stage, band, way or "receive")
    if isinstance(facts, Unsolved):
        return ()
    (at_rest,) = AT_REST
    tail = "" if way is None else f", {way}"
    resting = ((f"{each.ref} {at_rest.title}", at_rest.text(each)) for each in facts.figures.fed)
    lines = (*((figure.title, figure.text(facts)) for figure in told(facts)), *resting)
    return tuple((f"{title}{tail}", text) for title, text in lines)
