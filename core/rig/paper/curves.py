"""Curves of a rig over frequency or tone, asked of an analysis: the held design's by the same functions."""

from functools import lru_cache

import numpy as np

from core.circuits.ladder import Array, frozen, solve
from core.model.bands import Dials, Sideband
from core.model.stages.filters import Crystal, LadderFilter
from core.record import record
from core.rig.analysis import Analysis
from core.rig.plan.carriers import NO_CRYSTAL, carrier_crystal
from core.rig.scattered import spreads
from core.stages.built import corridor
from core.stages.built.corridor import Corridor, DelayCorridor
from core.stages.crystal_oscillator.asked import Place
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.filters import carrier_oscillator
from core.stages.filters.carrier_oscillator import SPEECH_HZ, CarrierPlace, Pulling
from core.stages.filters.ladder_filter import SolvedLadder
from core.stages.outcome import FilterDesign, Unsolved
from core.stages.tolerance.judging import Spreads

#: Points of a response.
POINTS = 601
#: Tones at which speech is looked at, Hz.
TONES_HZ = frozen(np.linspace(50.0, 4000.0, 396))
#: Below 150 Hz a tone passes the carrier's own skirt, where the delay of the ladder is of no interest.
DELAY_TONES_HZ = frozen(TONES_HZ[TONES_HZ >= 150.0])


@record(eq=False)
class FilterResponse:
    """A filter's exact response: arrays of shape (POINTS,), frequencies in Hz, losses in dB."""

    f_hz: Array
    loss_db: Array
    return_loss_db: Array


@record(eq=False)
class SpeechDelay:
    """Group delay [s] of a ladder at `DELAY_TONES_HZ`, and its spread [s] over `speech_hz` [Hz]."""

    delay_s: Array
    spread_s: float
    speech_hz: tuple[float, float] = SPEECH_HZ


@record(eq=False)
class PulledCarrier:
    """How a sideband's carrier follows its trimmer: arrays of shape (121,), F and Hz, and the wanted Hz."""

    sideband: Sideband
    trimmer_f: Array
    f_hz: Array
    wanted_hz: float


@lru_cache(maxsize=32)
def filter_response(design: FilterDesign, low_hz: float, high_hz: float) -> FilterResponse:
    """The response of a filter's circuit from `low_hz` to `high_hz` [Hz]."""
    f_hz = np.linspace(low_hz, high_hz, POINTS)
    solved = solve(design.network, f_hz)
    return FilterResponse(frozen(f_hz), frozen(solved.loss_db), frozen(solved.return_loss_db))


def scattered_response(
    analysis: Analysis, stage_id: str, band: str, low_hz: float, high_hz: float
) -> Corridor | Unsolved:
    """Where nine of ten filters like that of a stage on a band lie, from `low_hz` to `high_hz` [Hz]: their
    parts scatter as those of a tolerance run do.
    """
    design, member = analysis.filter_design(stage_id, band), analysis.member_on(stage_id, band)
    if isinstance(design, Unsolved):
        return design
    # What a filter without bands of its own has is switched in on all.
    bands = () if isinstance(member, Unsolved) else member.bands or ()
    dials = analysis.dials(bands)
    return _corridor(design, spreads(analysis.project.scatter), dials, low_hz, high_hz)


def speech_loss_db(analysis: Analysis, ladder: LadderFilter, band: str) -> Array | Unsolved:
    """Loss [dB] of a ladder at `TONES_HZ` on a band, relative to its least loss; or why there is none."""
    place, solved = analysis.carrier(band), analysis.solved(ladder)
    if isinstance(place, Unsolved):
        return place
    return solved if isinstance(solved, Unsolved) else _loss(solved, place)


def speech_delay(analysis: Analysis, ladder: LadderFilter, band: str) -> SpeechDelay | Unsolved:
    """Group delay of a ladder to speech on a band, or why there is none."""
    place, solved = analysis.carrier(band), analysis.solved(ladder)
    if isinstance(place, Unsolved):
        return place
    return solved if isinstance(solved, Unsolved) else _delay(solved, place)


def scattered_speech(analysis: Analysis, ladder: LadderFilter, band: str) -> Corridor | Unsolved:
    """Where nine of ten ladders like this one lie at `TONES_HZ` on a band: their loss [dB] relative to the
    least of this one.
    """
    place, solved = analysis.carrier(band), analysis.solved(ladder)
    if isinstance(place, Unsolved):
        return place
    parts = spreads(analysis.project.scatter)
    return solved if isinstance(solved, Unsolved) else _scattered_loss(solved, place, parts)


def scattered_delay(analysis: Analysis, ladder: LadderFilter, band: str) -> DelayCorridor | Unsolved:
    """Where the group delay [s] of nine of ten ladders like this one lies at `DELAY_TONES_HZ` on a band."""
    place, solved = analysis.carrier(band), analysis.solved(ladder)
    if isinstance(place, Unsolved):
        return place
    parts = spreads(analysis.project.scatter)
    return solved if isinstance(solved, Unsolved) else _scattered_delay(solved, place, parts)


def pulled_carriers(analysis: Analysis) -> tuple[PulledCarrier, ...] | Unsolved:
    """Every carrier in use over as much of its trimmer's range as it oscillates at, or why there is none."""
    project = analysis.project
    carrier, crystal = project.carrier, carrier_crystal(project)
    if crystal is None:
        return NO_CRYSTAL
    place = analysis.carrier(project.bands[0].name)
    if not analysis.carriers and isinstance(place, Unsolved):
        return place
    range_f = (carrier.trimmer_low_f, carrier.trimmer_high_f)
    made = analysis.carrier_circuit
    if isinstance(made, CrystalOscillatorDesign):
        pairs = zip(analysis.carriers, made.places, strict=True)
        every = (_pulled_whole(row.sideband, made, working.place) for row, working in pairs)
        found = tuple(each for each in every if each is not None)
        return found or Unsolved("The carrier oscillates nowhere in its trimmer's range; see its findings.")
    return tuple(
        _pulled(
            row.sideband,
            crystal,
            project.if_hz + crystal.offset_hz,
            row.pulling,
            range_f,
            carrier.load_capacitance_f,
        )
        for row in analysis.carriers
        if row.pulling is not None
    )


@lru_cache(maxsize=32)
def _corridor(design: FilterDesign, parts: Spreads, dials: Dials, low_hz: float, high_hz: float) -> Corridor:
    return corridor.corridor(design, np.linspace(low_hz, high_hz, POINTS), parts, dials)


@lru_cache(maxsize=32)
def _scattered_loss(solved: SolvedLadder, place: CarrierPlace, parts: Spreads) -> Corridor:
    found = corridor.corridor(solved.design, place.signals_hz(TONES_HZ), parts, ())
    least = solved.band.least_loss_db
    return Corridor(TONES_HZ, frozen(found.low_db - least), frozen(found.high_db - least))


@lru_cache(maxsize=32)
def _scattered_delay(solved: SolvedLadder, place: CarrierPlace, parts: Spreads) -> DelayCorridor:
    found = corridor.delay_corridor(solved.design, place.signals_hz(DELAY_TONES_HZ), parts, ())
    return DelayCorridor(DELAY_TONES_HZ, found.low_s, found.high_s)


@lru_cache(maxsize=32)
def _pulled(
    sideband: Sideband,
    crystal: Crystal,
    fs_hz: float,
    pulling: Pulling,
    range_f: tuple[float, float],
    load_f: float,
) -> PulledCarrier:
    trimmer_f = np.geomspace(*range_f, 121)
    f_hz = carrier_oscillator.pulled_hz(crystal, fs_hz, pulling.coil_h, trimmer_f, load_f)
    return PulledCarrier(sideband, frozen(trimmer_f), frozen(f_hz), pulling.wanted_hz)


@lru_cache(maxsize=32)
def _pulled_whole(sideband: Sideband, made: CrystalOscillatorDesign, at: Place) -> PulledCarrier | None:
    """Over the trimmer's range as far as the circuit oscillates; None where it nowhere does."""
    trimmer_f = np.geomspace(*made.asked.trimmer_f, 121)
    f_hz = made.pulled_hz(at.which, trimmer_f)
    known = np.isfinite(f_hz)
    if not known.any():
        return None
    return PulledCarrier(sideband, frozen(trimmer_f[known]), frozen(f_hz[known]), at.wanted_hz)


@lru_cache(maxsize=32)
def _loss(solved: SolvedLadder, place: CarrierPlace) -> Array | Unsolved:
    return carrier_oscillator.audio_response(solved, place, TONES_HZ)


@lru_cache(maxsize=32)
def _delay(solved: SolvedLadder, place: CarrierPlace) -> SpeechDelay | Unsolved:
    delay = carrier_oscillator.audio_group_delay_s(solved, place, DELAY_TONES_HZ)
    spread = carrier_oscillator.group_delay_spread_s(solved, place)
    if isinstance(delay, Unsolved):
        return delay
    return spread if isinstance(spread, Unsolved) else SpeechDelay(frozen(delay), spread)
