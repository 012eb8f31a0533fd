"""Levels in transmit from the microphone to the antenna: drive, compression, two tones, output.

Every figure is in dBm into the impedance at that place; gains are those of the chain of two-ports
(`chain.py`), so that mismatch counts. Levels after a compressing stage are estimates.
"""

from functools import lru_cache
from math import inf, log10

import numpy as np

from core.circuits.ladder import Array, frozen
from core.circuits.units import added_db, dbm, excess_db, watts
from core.model.stages.audio import Microphone
from core.record import record
from core.rig.levels.blocks import Block, audio_tones
from core.rig.levels.chain import Ohms, chain, input_ohm
from core.stages.audio.microphone import MicrophoneSource, source_of
from core.stages.kinds.kind import NOMINAL_OHM, SPEECH_TONE_HZ

#: How sharply a stage turns from straight to saturated [-]; customary for class A and AB, from memory.
KNEE = 2.0
#: Two equal tones whose peaks are those of speech: each is this much lower, dB.
TONE_BELOW_PEAK_DB = 20 * log10(2)
#: A power amplifier near class AB follows no intercept: products below this are not told of it, dBc. A
#: square-law device run hot has none at all, which no real one keeps.
LEAST_TOLD_DBC = -30.0


@record(kw_only=True, slots=False)
class TwoTones:
    """Third-order products of two tones whose peaks are those of speech, dB below either tone.

    `driving_dbc` are those that reach the power amplifier (or the antenna, without one), `antenna_dbc` all at
    the antenna: with a power amplifier an estimate, and never told below `LEAST_TOLD_DBC`. `shares_dbc` are
    those that each stage makes by itself, None for one that has no intercept, and `worst` which makes most.
    """

    driving_dbc: float | None
    antenna_dbc: float | None
    shares_dbc: tuple[float | None, ...]
    worst: int | None


@record(kw_only=True, slots=False)
class TransmitLevels:
    """Levels in transmit at speech peaks; `level_dbm` of shape (stages + 1,), microphone to antenna.

    Every stage compresses along one curve (`compressed_dbm`). `headroom_db` is how far each stage's input
    stays below that at which its gain is 1 dB less, None for passive ones. `wanted_dbm` is the level at each
    place that would give the wanted output, None where a stage behind it cannot give so much.
    """

    band: str
    dial_hz: float
    blocks: tuple[Block, ...]
    nodes: tuple[str, ...]
    level_dbm: Array
    wanted_dbm: tuple[float | None, ...]
    limit_dbm: tuple[float | None, ...]
    headroom_db: tuple[float | None, ...]
    output_w: float
    worst_headroom_db: float | None
    two_tones: TwoTones


def compressed_dbm(straight_dbm: float, p1db_out_dbm: float) -> float:
    """What a stage gives [dBm] where its gain alone would give `straight_dbm` [dBm].

    A model, not a measurement: P = Po / (1 + (Po/Ps)^k)^(1/k) with k = KNEE, after C. Rapp's curve for solid
    state amplifiers (1991, from memory), its saturation Ps placed so that at `p1db_out_dbm` [dBm] just 1 dB
    is lost; the most it gives is then 2.2 dB above that.
    """
    return straight_dbm - added_db(0.0, KNEE * (straight_dbm - _saturation_dbm(p1db_out_dbm))) / KNEE


def straight_dbm(given_dbm: float, p1db_out_dbm: float) -> float | None:
    """What a stage's gain alone would have to give [dBm] so that it gives `given_dbm`; None where it cannot.

    The curve of `compressed_dbm` turned round: Po = P / (1 − (P/Ps)^k)^(1/k).
    """
    short_db = KNEE * (_saturation_dbm(p1db_out_dbm) - given_dbm)
    return None if short_db <= 0 else given_dbm - (excess_db(short_db) - short_db) / KNEE


def _saturation_dbm(p1db_out_dbm: float) -> float:
    return p1db_out_dbm + 1 - excess_db(KNEE) / KNEE


@record(kw_only=True)
class MicrophoneLevels:
    """On speech peaks: open voltage and that at the amplifier's input [V], source and input impedance at
    1 kHz [ohm], what of the voltage the divider of the two loses [dB], and the level into the amplifier
    [dBm]. `computed` tells whether the input is that of a circuit. `source` is the microphone itself.
    """

    source: MicrophoneSource
    input_impedance: complex
    computed: bool

    @property
    def name(self) -> str:
        """Its type."""
        return self.source.name

    @property
    def open_v(self) -> float:
        """Its voltage without a load, V."""
        return self.source.open_v

    @property
    def source_ohm(self) -> float:
        """The magnitude of its impedance, ohm."""
        return self.source.magnitude_ohm

    @property
    def source_at_tone(self) -> complex:
        """Its impedance, ohm."""
        return complex(self.source.impedance_ohm(np.array([SPEECH_TONE_HZ]))[0])

    @property
    def input_ohm(self) -> float:
        """The magnitude of the amplifier's input impedance, ohm."""
        return abs(self.input_impedance)

    @property
    def input_v(self) -> float:
        """The voltage at the amplifier's input, V."""
        return self.open_v * abs(self.input_impedance / (self.source_at_tone + self.input_impedance))

    @property
    def divider_db(self) -> float:
        """How far that lies below the open voltage, dB."""
        return -20 * log10(self.input_v / self.open_v)

    @property
    def level_dbm(self) -> float:
        """The power into the amplifier, dBm."""
        return dbm(self.input_v**2 * (1 / self.input_impedance).real)


def is_circuit(blocks: tuple[Block, ...]) -> bool:
    """Whether a transmitter begins with an audio stage of which the circuit is known."""
    return bool(blocks) and blocks[0].zone == "audio" and blocks[0].port is not None


def microphone_levels(microphone: Microphone, blocks: tuple[Block, ...] = ()) -> MicrophoneLevels | None:
    """What a microphone of a known type gives the first of a transmitter's blocks; None where its level is
    typed in. The input is computed where that block is a circuit, and as typed in where it is not.
    """
    if microphone.type == "level":
        return None
    known = is_circuit(blocks)
    return MicrophoneLevels(
        source=source_of(microphone, blocks[0].electret_ohm if known else None),
        input_impedance=input_ohm(blocks) if known else microphone.input_ohm,
        computed=known,
    )


def _spoken(microphone: Microphone, blocks: tuple[Block, ...]) -> tuple[float, Ohms]:
    """Speech peaks at the first stage's input [dBm], and the source that stands before it [ohm]: into a stage
    of which only figures are known as power, before a circuit as what is available.
    """
    if is_circuit(blocks):
        source = source_of(microphone, blocks[0].electret_ohm)
        return source.available_dbm, tuple(source.impedance_ohm(np.array(audio_tones())).tolist())
    found = microphone_levels(microphone)
    return (microphone.peak_dbm if found is None else found.level_dbm), NOMINAL_OHM


@lru_cache(maxsize=64)
def transmit(
    blocks: tuple[Block, ...], band: str, dial_hz: float, microphone: Microphone, wanted_w: float
) -> TransmitLevels:
    """Levels on speech peaks from microphone to antenna for one dial frequency [Hz], `wanted_w` [W] being the
    output that is wanted.
    """
    speech_dbm, source = _spoken(microphone, blocks)
    blocks = chain(blocks, source).blocks
    level = _along(blocks, speech_dbm)
    headroom = [
        None if each.p1db_in_dbm is None else each.p1db_in_dbm - into
        for each, into in zip(blocks, level[:-1], strict=True)
    ]
    return TransmitLevels(
        band=band,
        dial_hz=dial_hz,
        blocks=blocks,
        nodes=("Microphone", *(each.name for each in blocks)),
        level_dbm=frozen(np.array(level)),
        wanted_dbm=_wanted(blocks, dbm(wanted_w)),
        limit_dbm=tuple(each.p1db_out_dbm for each in blocks),
        headroom_db=tuple(headroom),
        output_w=watts(level[-1]),
        worst_headroom_db=min((h for h in headroom if h is not None), default=None),
        two_tones=two_tones(blocks, tuple(level[1:])),
    )


def _along(blocks: tuple[Block, ...], start_dbm: float) -> list[float]:
    """Levels from the first stage's input to the last one's output, dBm."""
    level = [start_dbm]
    for each in blocks:
        asked = level[-1] + each.gain_db
        level.append(asked if each.p1db_out_dbm is None else compressed_dbm(asked, each.p1db_out_dbm))
    return level


def less_drive_db(levels: TransmitLevels, most_dbc: float) -> int | None:
    """By how many whole decibels to turn the microphone down until two tones' products at the antenna
    lie `most_dbc` [dBc] below a tone; None where 60 dB do not suffice.
    """
    for less in range(61):
        level = _along(levels.blocks, float(levels.level_dbm[0]) - less)
        found = two_tones(levels.blocks, tuple(level[1:])).antenna_dbc
        if found is None or found <= most_dbc:
            return less
    return None


def _wanted(blocks: tuple[Block, ...], output_dbm: float) -> tuple[float | None, ...]:
    """The level at each place that gives this output, from the antenna backwards."""
    wanted: list[float | None] = [output_dbm]
    for each in reversed(blocks):
        out = wanted[-1]
        if out is not None and each.p1db_out_dbm is not None:
            out = straight_dbm(out, each.p1db_out_dbm)
        wanted.append(None if out is None else out - each.gain_db)
    return tuple(wanted[::-1])


def two_tones(blocks: tuple[Block, ...], peak_dbm: tuple[float, ...]) -> TwoTones:
    """Third-order products of a path whose stages give these peaks [dBm].

    Each stage makes 2 (OIP3 − tone) dB below a tone; what several make is added as voltages in phase, the
    customary worst case (as in a cascade of intercepts).
    """
    shares: list[float | None] = []
    for each, peak in zip(blocks, peak_dbm, strict=True):
        tone = peak - TONE_BELOW_PEAK_DB
        shares.append(None if each.iip3_dbm is None else 2 * (tone - each.iip3_dbm - each.gain_db))
    told = [n for n, share in enumerate(shares) if share is not None]
    power = [n for n, each in enumerate(blocks) if each.role == "power_amplifier"]
    driving = _in_phase(shares[: power[0]] if power else shares)
    antenna = _in_phase(shares)
    if power and antenna is not None:
        antenna = max(antenna, LEAST_TOLD_DBC)
    return TwoTones(
        driving_dbc=driving,
        antenna_dbc=antenna,
        shares_dbc=tuple(shares),
        worst=max(told, key=lambda n: shares[n] or -inf, default=None),
    )


def _in_phase(shares_dbc: list[float | None]) -> float | None:
    """Products [dBc] added as voltages; None without any."""
    # 20 lg of the sum of voltages is twice 10 lg of the sum of their numbers.
    whole = -inf
    for each in shares_dbc:
        if each is not None:
            whole = added_db(whole, each / 2)
    return None if whole == -inf else 2 * whole
