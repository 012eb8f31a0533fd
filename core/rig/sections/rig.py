"""All tables of figures of a rig, and how each is filled from an analysis."""

from collections.abc import Callable, Sequence
from typing import Any

from core.model.stages.stage import Way
from core.rig.amplifier_facts import amplifiers_of, sensitivities
from core.rig.analysis import Analysis
from core.rig.audio.chain import AudioChain, audio_chain
from core.rig.audio.facts import Sound, audio_of, sound
from core.rig.audio.figures import AUDIO, SOUND, SPEECH
from core.rig.figures.amplifiers import AMPLIFIER_PARTS, AMPLIFIERS, PartOf
from core.rig.figures.crystals import MEASURED, measured_on
from core.rig.figures.filters import FILTERS, FilterOn
from core.rig.figures.levels import LOOPS, MICROPHONE, TRANSMIT, sent
from core.rig.figures.mixers import BEHIND, MIXER_PRODUCTS, MIXERS, behind_oscillators, products_of
from core.rig.figures.parts import COILS, PARTS
from core.rig.figures.plan import CARRIER, PLAN, CarrierOn
from core.rig.figures.products import SPURS
from core.rig.figures.read_out import READ_OUT, ShownOn
from core.rig.figures.receive import DYNAMIC_RANGE, OWN_NOISE, RECEIVE, S_METER, noise_on
from core.rig.figures.vfo import VFO, VfoOn
from core.rig.levels.transmit import MicrophoneLevels
from core.rig.mixer_facts import balance_db, mixers_of
from core.rig.sections.crystal_oscillators import CRYSTAL_OSCILLATOR, oscillators_at
from core.rig.sections.power import POWER_SECTIONS
from core.rig.sections.section import Section
from core.rig.sections.supply import SUPPLY
from core.rig.sections.winding_ends import WINDING_ENDS
from core.rig.tuning import warm_up
from core.rig.wound.ends import every_end
from core.rig.wound.windings import windings
from core.stages.audio.design import AudioDesign
from core.stages.outcome import Unsolved
from core.stages.vfo.tank import TankDesign

#: So many parts are told of an amplifier.
_MOST_PARTS = 8


def filters_on(analysis: Analysis) -> list[FilterOn]:
    """Every filter on each of its bands."""
    return [FilterOn(analysis, row, band) for row in analysis.filters for band in row.bands or ("",)]


def _amplifier_parts(analysis: Analysis) -> list[PartOf]:
    """The parts of every amplifier that do most to it, each a tenth larger."""
    found = []
    for facts in amplifiers_of(analysis):
        does = sensitivities(facts)
        if not isinstance(does, Unsolved):
            found += [PartOf(facts.name, each) for each in does[:_MOST_PARTS]]
    return found


def carriers_on(analysis: Analysis) -> list[CarrierOn]:
    """The carrier of each sideband in use."""
    carrier = analysis.project.carrier
    return [
        CarrierOn(row, balance_db(analysis, row.bands[0]), carrier.coil_h is None)
        for row in analysis.carriers
    ]


def vfo_on(analysis: Analysis) -> list[VfoOn]:
    """The VFO on each band; none where it has no tank or its range is none."""
    made = analysis.tank
    if not isinstance(made, TankDesign):
        return []
    rows = []
    for cover in made.ranges:
        found = analysis.vfo_on(cover.band)
        if isinstance(found, Unsolved):
            rows.append(VfoOn(cover, None))
        else:
            rows.append(VfoOn(cover, found, warm_up(made, found.worst_drift.hz_per_k)))
    return rows


def shown_on(analysis: Analysis) -> list[ShownOn]:
    """What the counter shows on each band; none without a counter."""
    plan = analysis.read_out
    if plan is None:
        return []
    return [ShownOn(row, plan.resolution_hz) for row in plan.bands]


def _spurs(analysis: Analysis) -> list[Any]:
    return [spur for band in analysis.project.bands for spur in analysis.spurs(band.name)]


def _in(way: str, get: Callable[[Analysis, str], Any]) -> Callable[[Analysis], Sequence[Any]]:
    """What there is on every band, where the path in that direction has a stage."""
    return lambda analysis: [
        get(analysis, band.name)
        for band in analysis.project.bands
        if analysis.project.path(way)  # type: ignore[arg-type]
    ]


def _heard(
    rows: Callable[[Analysis, str], Sequence[Any]],
) -> Callable[[Analysis], Sequence[Any]]:
    """Several rows a band, where the path in receive has a stage."""
    of = _in("receive", rows)
    return lambda analysis: [row for band in of(analysis) for row in band]


def _microphone(analysis: Analysis) -> list[MicrophoneLevels]:
    found = analysis.microphone
    return [] if found is None else [found]


def speech_on(analysis: Analysis) -> list[AudioChain]:
    """What speech passes on every band in either direction; nothing without audio stages of parts."""
    if not any(isinstance(row.design, AudioDesign) for row in analysis.circuits):
        return []
    ways: tuple[Way, ...] = ("receive", "transmit")
    found = (audio_chain(analysis, band.name, way) for way in ways for band in analysis.project.bands)
    return [each for each in found if isinstance(each, AudioChain)]


def sound_of(analysis: Analysis) -> list[Sound]:
    """What comes to the ear; nothing where the last stage in receive is no circuit."""
    found = sound(analysis, analysis.project.bands[0].name) if analysis.project.path("receive") else None
    return [] if found is None else [found]


#: Levels go by direction in JSON.
LEVELS = (
    Section("receive", RECEIVE, _in("receive", lambda a, band: a.receive(band))),
    Section("transmit", TRANSMIT, _in("transmit", sent)),
)
SECTIONS = (
    Section("frequency_plan", PLAN, lambda a: a.frequency_plan),
    Section("spurs", SPURS, _spurs),
    Section("filters", FILTERS, filters_on),
    Section("coils", COILS, windings),
    Section("windings", WINDING_ENDS, every_end),
    Section("measured", MEASURED, measured_on),
    Section("amplifiers", AMPLIFIERS, amplifiers_of),
    Section("amplifier_parts", AMPLIFIER_PARTS, _amplifier_parts),
    Section("behind_oscillators", BEHIND, behind_oscillators),
    Section("mixers", MIXERS, mixers_of),
    Section(
        "mixer_products", MIXER_PRODUCTS, lambda a: [m for each in mixers_of(a) for m in products_of(each)]
    ),
    Section("audio", AUDIO, audio_of),
    Section("speech", SPEECH, speech_on),
    Section("sound", SOUND, sound_of),
    Section("microphone", MICROPHONE, _microphone),
    Section("loop_gain", LOOPS, lambda a: a.loops()),
    Section("carrier", CARRIER, carriers_on),
    Section("crystal_oscillators", CRYSTAL_OSCILLATOR, oscillators_at),
    Section("vfo", VFO, vfo_on),
    Section("read_out", READ_OUT, shown_on),
    Section("s_meter", S_METER, _heard(lambda a, band: a.s_meter(band))),
    Section("dynamic_range", DYNAMIC_RANGE, _heard(lambda a, band: a.dynamic_ranges(band))),
    Section("own_noise", OWN_NOISE, _heard(noise_on)),
    *POWER_SECTIONS,
    *SUPPLY,
    Section("parts", PARTS, lambda a: a.parts),
)
