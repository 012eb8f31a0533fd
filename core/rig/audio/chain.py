"""What tones of speech pass: the audio stages between what really stands beside them, and the ladder with its
carrier, from the antenna to the speaker and from the microphone to the modulator.
"""

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from core.circuits.active.along import along
from core.circuits.active.two_port import TwoPort
from core.circuits.ladder import Array, frozen
from core.model.project import Stage
from core.model.stages.stage import Way
from core.record import record
from core.rig.analysis import Analysis
from core.rig.levels.blocks import Block
from core.rig.levels.chain import Ohms
from core.rig.levels.ends import port_at
from core.rig.levels.receive import speaker_ohm
from core.rig.levels.transmit import is_circuit
from core.stages.audio.microphone import source_of
from core.stages.filters.carrier_oscillator import SPEECH_HZ, CarrierPlace, audio_response
from core.stages.filters.ladder_filter import SolvedLadder
from core.stages.kinds.kind import NOMINAL_OHM, SPEECH_TONE_HZ, Place
from core.stages.outcome import Unsolved

#: Tones at which a path is looked at, Hz.
TONES_HZ = frozen(np.arange(50.0, 5001.0, 25.0))
_TONE = int(np.searchsorted(TONES_HZ, SPEECH_TONE_HZ))
#: How far down speech's ends are told, dB.
CORNER_DB = 6.0


@record(kw_only=True, eq=False)
class AudioChain:
    """A direction's response to tones of speech, relative to 1 kHz [dB], shapes (F,) at `TONES_HZ`.

    `ladder_db` is what the ladder does to them, `audio_db` the audio stages from the detector to the speaker
    or from the microphone's open voltage to the modulator, `whole_db` both. `corners_hz` is where the whole
    has fallen by `CORNER_DB` to either side, None where it has not [Hz], `ripple_db` from its loudest to its
    weakest tone of speech [dB].
    """

    band: str
    way: Way
    ladder_db: Array
    audio_db: Array
    whole_db: Array
    corners_hz: tuple[float | None, float | None]
    ripple_db: float

    def audio_at_db(self, f_hz: float) -> float:
        """What the audio stages do to a tone [Hz], relative to 1 kHz, dB."""
        return float(np.interp(f_hz, TONES_HZ, self.audio_db))


def audio_stages(analysis: Analysis, band: str, way: Way) -> list[tuple[int, Stage, Block]]:
    """The stages of a path that work in audio, with their place and block; mixers are none."""
    path = analysis.project.path(way)
    blocks = analysis.blocks(band, way, analysis.project.band(band).centre_hz)
    return [
        (n, stage, each)
        for n, (stage, each) in enumerate(zip(path, blocks, strict=True))
        if each.zone == "audio" and each.role != "mixer"
    ]


def ports_at(analysis: Analysis, band: str, way: Way, f_hz: tuple[float, ...]) -> tuple[TwoPort, ...]:
    """The audio stages of a path as two-ports at frequencies [Hz]."""
    return tuple(_ports(analysis, band, way, f_hz))


def _ports(analysis: Analysis, band: str, way: Way, f_hz: tuple[float, ...]) -> Iterator[TwoPort]:
    for _, stage, each in audio_stages(analysis, band, way):
        made = analysis.design(stage.id, band)
        at = Place(zone="audio", way=way, design=None if isinstance(made, Unsolved) else made)
        yield port_at(stage, at, each, f_hz)


def ends_of(analysis: Analysis, band: str, way: Way, f_hz: Array) -> tuple[Ohms, complex]:
    """What stands before the audio stages at frequencies (F,) [Hz], and behind them [ohm]."""
    blocks = analysis.blocks(band, way, analysis.project.band(band).centre_hz)
    if way == "transmit":
        modulator = next((each for each in blocks if each.role == "mixer"), None)
        load = NOMINAL_OHM if modulator is None else modulator.input_ohm
        if not is_circuit(blocks):
            return NOMINAL_OHM, load
        source = source_of(analysis.project.microphone, blocks[0].electret_ohm)
        return tuple(source.impedance_ohm(f_hz).tolist()), load
    detector = next((each for each in reversed(blocks) if each.role == "mixer"), None)
    before = NOMINAL_OHM if detector is None else detector.output_ohm
    return before, speaker_ohm(blocks, analysis.project.speaker)


def audio_chain(analysis: Analysis, band: str, way: Way) -> AudioChain | Unsolved:
    """What tones of speech pass on a band in a direction, or why nothing can be told."""
    place, ladder = analysis.carrier(band), analysis.ladder
    if isinstance(place, Unsolved):
        return place
    solved = None if ladder is None else analysis.solved(ladder)
    if isinstance(solved, Unsolved):
        return solved
    ports = ports_at(analysis, band, way, tuple(TONES_HZ.tolist()))
    return _whole(band, way, solved, place, ports, *ends_of(analysis, band, way, TONES_HZ))


@lru_cache(maxsize=16)
def _ladder_db(solved: SolvedLadder, place: CarrierPlace) -> Array | Unsolved:
    loss = audio_response(solved, place, TONES_HZ)
    return loss if isinstance(loss, Unsolved) else frozen(loss[_TONE] - loss)


@lru_cache(maxsize=16)
def _audio_db(ports: tuple[TwoPort, ...], source_ohm: Ohms, load_ohm: complex) -> Array:
    """The voltage at the load from a source of constant voltage, relative to the tone."""
    source = np.broadcast_to(np.asarray(source_ohm, dtype=complex), TONES_HZ.shape)
    gain = along(ports, source, load_ohm, NOMINAL_OHM, len(TONES_HZ)).gain_db[-1]
    # Transducer gain is over what the source could give, which is less the larger its resistance.
    level = gain - 10 * np.log10(source.real)
    return frozen(level - level[_TONE])


@lru_cache(maxsize=16)
def _whole(
    band: str,
    way: Way,
    solved: SolvedLadder | None,
    place: CarrierPlace,
    ports: tuple[TwoPort, ...],
    source_ohm: Ohms,
    load_ohm: complex,
) -> AudioChain | Unsolved:
    ladder = frozen(np.zeros_like(TONES_HZ)) if solved is None else _ladder_db(solved, place)
    if isinstance(ladder, Unsolved):
        return ladder
    audio = _audio_db(ports, source_ohm, load_ohm) if ports else frozen(np.zeros_like(TONES_HZ))
    whole = frozen(ladder + audio)
    speech = whole[(SPEECH_HZ[0] <= TONES_HZ) & (SPEECH_HZ[1] >= TONES_HZ)]
    return AudioChain(
        band=band,
        way=way,
        ladder_db=ladder,
        audio_db=audio,
        whole_db=whole,
        corners_hz=(_corner(whole[: _TONE + 1][::-1], -1), _corner(whole[_TONE:], 1)),
        ripple_db=float(speech.max() - speech.min()),
    )


def _corner(from_tone_db: Array, step: int) -> float | None:
    """Where a response from the tone on has fallen far enough, Hz; None where it has not."""
    below = np.flatnonzero(from_tone_db < -CORNER_DB)
    if not below.size:
        return None
    n = int(below[0])
    one, two = float(from_tone_db[n - 1]), float(from_tone_db[n])
    share = (one + CORNER_DB) / (one - two)
    at = TONES_HZ[_TONE + step * (n - 1)]
    return float(at + share * (TONES_HZ[_TONE + step * n] - at))
