"""What a mixer's circuit does at a drive, and how well it is balanced.

Diodes between 50 ohm at every frequency, a transistor array matched to 50 ohm (`core.circuits.switching`). A
mixer of diodes counts with a noise figure of its loss at least: shot noise alone comes out lower, and nobody
sees that in practice.

A mixer between resistances has no memory, so it is solved at each phase of its oscillator
(`circuits/switching/diodes.py`): at rest in closed form (Wright's omega), a small signal to third order on
the same Jacobian, a large one by Newton's method on few phases; every sideband is in the answer. A transistor
array is closed forms of tanh (`circuits/switching/tail_pair.py`), which know no capacitances: all its figures
are estimates, the gain up to 1.5 dB too high at 14 MHz with 1 mA. Here stands what that means for a builder's
mixer: the drive that switches it well and the most that it bears, and a modulator's carrier from what its
devices and windings differ by. The drive is what leaves the amplifiers and pads that work behind the
oscillator (`rig/levels/oscillator_drive.py`). Isolation and suppression of products are the circuit's too
(`stages/mixers/products.py`); a mixer of which only the type is known counts as its table says.
"""

from dataclasses import replace
from functools import lru_cache
from math import hypot, log10, sqrt

import numpy as np

from core.circuits.circuit import Diode
from core.circuits.ladder import Array, frozen
from core.circuits.switching import diodes as of_diodes
from core.circuits.switching import tail_pair
from core.circuits.switching.diodes import RING, TWO_DIODES, Board, Conversion, current_a
from core.circuits.switching.tail_pair import TailPair
from core.circuits.units import dbm, decibels, watts
from core.model.stages.mixers import Mixer
from core.model.values.parts import key
from core.record import record
from core.stages.gate import gate
from core.stages.outcome import Unsolved
from core.trade.devices import BipolarRow, devices
from core.trade.diodes import diodes
from core.trade.mixers import typical

PORT_OHM = 50.0
PORTS_OHM = (PORT_OHM, PORT_OHM, PORT_OHM)
BOARDS: dict[str, Board] = {"ring": RING, "two_diode": TWO_DIODES}
#: Drives that a mixer is looked at over [dBm]; outside it is taken to do as at the end.
DRIVES_DBM = frozen(np.arange(-20.0, 20.5, 1.0))
#: A mixer is switched well when it converts to within this of what the strongest drive gives, dB; so much
#: more is asked for, dB. Common practice, no source.
_SHORT_DB, _ROOM_DB = 1.0, 2.0
#: Oscillator's peak voltage at switching transistors beyond which they saturate [V]; from memory.
_MOST_ARRAY_V = 0.6
#: Differences of forward or base-emitter voltage, typical, between devices out of one bag and between matched
#: ones [V]; between the transistors of one array they are a fifth. From memory.
_DIFFERENCE_V, _OF_ARRAY = {"as_they_come": 10e-3, "matched": 2e-3}, 0.2
#: A carrier weaker than this share of a sideband is none [-].
_NOTHING = 1e-9
#: What a mixer bears, which takes longest, is found to some hundredths of a decibel and for drives on so many
#: decimals.
_BEARS_PLACES = 1
#: What a mixer's circuit is made from.
_OF_CIRCUIT = ("type", "diode", "transformer_loss_db", "device", "tail_a", "degeneration_ohm", "inner_ohm")
#: Current gain and base resistance of a transistor that the table has not [-, ohm]; from memory.
_USUAL_PAIR = (100.0, 50.0)
#: And what of it decides the resistance that the balance's potentiometer puts before the diodes.
_OF_BALANCE = ("oscillator", "direction", "matching", "balance_trimmed", "as_built")
#: Tracks of preset potentiometers that are sold [ohm], and how many times the difference of two diodes'
#: voltage one makes up for [-]; common practice, no source.
_TRACKS_OHM, _BALANCE_ROOM = (10.0, 22.0, 47.0, 100.0, 220.0), 3.0
#: What trimming the balance gains, dB; common practice, no source.
_TRIMMED_DB = {"not_at_all": 0.0, "resistance": 20.0, "both": 30.0}


@record(kw_only=True)
class AtDrive:
    """A mixer's circuit at one drive: conversion gain and noise figure [dB], input intercept and compression
    [dBm], impedances of its ports to the signal [ohm], and the diodes' largest current [A], None for
    transistors.
    """

    drive_dbm: float
    gain_db: float
    noise_figure_db: float
    iip3_dbm: float
    p1db_in_dbm: float
    input_ohm: float
    output_ohm: float
    largest_a: float | None


@record(eq=False, kw_only=True)
class OverDrive:
    """The same over `drive_dbm`, shapes (D,), and the least drive that switches it well and the most that it
    bears [dBm].
    """

    drive_dbm: Array
    gain_db: Array
    noise_figure_db: Array
    iip3_dbm: Array
    least_dbm: float
    most_dbm: float

    @property
    def wanted_dbm(self) -> float:
        """The drive to aim at, dBm."""
        return min(self.least_dbm + _ROOM_DB, self.most_dbm)


@record(kw_only=True)
class Balance:
    """How far a modulator's carrier lies below one sideband on speech peaks, dB: by the devices' difference,
    by the transformer's, both together untrimmed, trimmed, and as measured. Estimates, at a drive and with
    speech peaks at the input [dBm].
    """

    drive_dbm: float
    audio_dbm: float
    devices_db: float
    transformer_db: float | None
    untrimmed_db: float
    trimmed_db: float
    measured_db: float | None

    @property
    def counts_db(self) -> float:
        """What is counted with: a reading replaces the estimate."""
        return self.trimmed_db if self.measured_db is None else self.measured_db


def peak_v(level_dbm: Array | float) -> Array:
    """Peak voltage [V] of a level [dBm] in 50 ohm."""
    return np.sqrt(2 * PORT_OHM * 1e-3 * 10 ** (np.asarray(level_dbm, dtype=float) / 10))


def pair_of(mixer: Mixer) -> TailPair:
    """What a transistor array is made of."""
    row = devices().get(mixer.device)
    gain, ohm = (row.current_gain, row.base_ohm) if isinstance(row, BipolarRow) else _USUAL_PAIR
    return TailPair(
        tail_a=mixer.tail_a,
        degeneration_ohm=mixer.degeneration_ohm,
        inner_ohm=mixer.inner_ohm,
        current_gain=gain,
        base_ohm=ohm,
    )


def emf_v(mixer: Mixer, drive_dbm: Array | float) -> Array:
    """EMF [V, peak] behind 50 ohm that drives the diodes at a drive [dBm]; a ring has a transformer at that
    port too.
    """
    lost = mixer.transformer_loss_db if mixer.type == "ring" else 0.0
    return 2 * peak_v(np.asarray(drive_dbm) - lost)


def track_ohm(mixer: Mixer) -> tuple[float, float] | None:
    """What the potentiometer of a modulator's balance must make up for, and the track that is taken [ohm]:
    the voltage by which two devices may differ, over the current in them at the peak of the usual drive, or
    in each of two transistors at rest. None where nothing is trimmed.
    """
    if not mixer.is_modulator or mixer.balance_trimmed == "not_at_all":
        return None
    most_a = mixer.tail_a / 2
    if mixer.type in BOARDS:
        board, diode = BOARDS[mixer.type], diodes()[mixer.diode].model
        rows = np.array(board.across)
        line_ohm = PORT_OHM * float((rows @ rows[0])[rows[:, 0] > 0].sum())
        emf = 2 * float(peak_v(typical(mixer.type).drive_dbm))
        most_a = float(current_a(diode, np.asarray(emf), line_ohm))
    wanted = _BALANCE_ROOM * sqrt(2) * difference_v(mixer) / most_a
    return wanted, next((ohm for ohm in _TRACKS_OHM if ohm >= wanted), _TRACKS_OHM[-1])


def diode_of(mixer: Mixer) -> Diode:
    """A mixer's diode with what stands before it: half of the balance's track."""
    model, track = diodes()[mixer.diode].model, track_ohm(mixer)
    if track is None:
        return model
    fitted = dict(mixer.as_built).get(key("potentiometer"), track[1])
    return replace(model, series_ohm=model.series_ohm + fitted / 2)


def _converted(mixer: Mixer, drive_dbm: Array) -> Conversion:
    """A mixer of diodes at drives [dBm], shape (D,), without its signal's transformer."""
    return of_diodes.conversion(BOARDS[mixer.type], diode_of(mixer), emf_v(mixer, drive_dbm), PORTS_OHM)


def _decibels(power: Array) -> Array:
    return frozen(10 * np.log10(power))


@lru_cache(maxsize=64)
def circuit_of(mixer: Mixer) -> Mixer:
    """A mixer of the same circuit: one for all that are built alike, so that each is solved once."""
    built = {
        name: getattr(mixer, name) for name in (*_OF_CIRCUIT, *(_OF_BALANCE if track_ohm(mixer) else ()))
    }
    return Mixer(id="mixer", name="Mixer", **{"direction": "both", **built})


def difference_v(mixer: Mixer) -> float:
    """By what the voltages of two devices of a mixer differ [V], as stated or typical."""
    if mixer.difference_v is not None:
        return mixer.difference_v
    share = _OF_ARRAY if mixer.type == "transistor_array" else 1.0
    return share * _DIFFERENCE_V[mixer.matching]


def over_drive(mixer: Mixer) -> OverDrive | Unsolved:
    """The mixer's circuit over DRIVES_DBM."""
    return _over_drive(circuit_of(mixer))


def at_drive(mixer: Mixer, drive_dbm: float) -> AtDrive | Unsolved:
    """The mixer's circuit at a drive [dBm] available from its oscillator."""
    return _at_drive(circuit_of(mixer), drive_dbm)


@lru_cache(maxsize=64)
@gate("The mixer")
def _over_drive(mixer: Mixer) -> OverDrive | Unsolved:
    if mixer.type == "transistor_array":
        pair, ones = pair_of(mixer), np.ones_like(DRIVES_DBM)
        found = tail_pair.switched(pair, peak_v(DRIVES_DBM))
        gain, noise = _decibels(found.gain), _decibels(found.noise_factor)
        iip3 = frozen(dbm(tail_pair.intercept_w(pair)) * ones)
        most = dbm(_MOST_ARRAY_V**2 / (2 * PORT_OHM))
    else:
        row, lost = diodes()[mixer.diode], mixer.transformer_loss_db
        made = _converted(mixer, DRIVES_DBM)
        inner = 10 * np.log10(made.gain)
        gain = frozen(inner - lost)
        noise = frozen(np.maximum(10 * np.log10(made.noise_factor), -inner) + lost)
        iip3 = frozen(10 * np.log10(made.intercept_w / 1e-3) + lost)
        most = float(np.interp(row.most_a, made.largest_a, DRIVES_DBM))
    least = float(np.interp(gain[-1] - _SHORT_DB, gain, DRIVES_DBM))
    return OverDrive(
        drive_dbm=DRIVES_DBM,
        gain_db=gain,
        noise_figure_db=noise,
        iip3_dbm=iip3,
        least_dbm=min(least, most),
        most_dbm=most,
    )


@lru_cache(maxsize=64)
@gate("The mixer")
def _at_drive(mixer: Mixer, drive_dbm: float) -> AtDrive | Unsolved:
    drive = min(max(drive_dbm, float(DRIVES_DBM[0])), float(DRIVES_DBM[-1]))
    if mixer.type == "transistor_array":
        pair, volt = pair_of(mixer), peak_v(drive)
        found = tail_pair.switched(pair, volt.reshape(1))
        return AtDrive(
            drive_dbm=drive_dbm,
            gain_db=decibels(float(found.gain[0])),
            noise_figure_db=decibels(float(found.noise_factor[0])),
            iip3_dbm=dbm(tail_pair.intercept_w(pair)),
            p1db_in_dbm=dbm(tail_pair.compression_w(pair)),
            input_ohm=PORT_OHM,
            output_ohm=PORT_OHM,
            largest_a=None,
        )
    lost, made = mixer.transformer_loss_db, _converted(mixer, np.array([drive]))
    inner_db = decibels(float(made.gain[0]))
    # A signal stronger than the oscillator would switch the diodes itself.
    near = float(emf_v(mixer, round(drive, _BEARS_PLACES)))
    most_w = min(_bears_w(mixer.type, diode_of(mixer), near), watts(drive))
    return AtDrive(
        drive_dbm=drive_dbm,
        gain_db=inner_db - lost,
        noise_figure_db=max(decibels(float(made.noise_factor[0])), -inner_db) + lost,
        iip3_dbm=dbm(float(made.intercept_w[0])) + lost,
        p1db_in_dbm=dbm(most_w) + lost,
        input_ohm=float(made.input_ohm[0]),
        output_ohm=float(made.output_ohm[0]),
        largest_a=float(made.largest_a[0]),
    )


@lru_cache(maxsize=128)
def _bears_w(board: str, diode: Diode, emf: float) -> float:
    """Signal [W] at which the diodes' conversion has fallen by 1 dB."""
    return of_diodes.compression_w(BOARDS[board], diode, emf, PORTS_OHM)


@lru_cache(maxsize=64)
@gate("The modulator's balance")
def balance(mixer: Mixer, drive_dbm: float, audio_dbm: float) -> Balance | Unsolved:
    """A modulator's carrier below one sideband, for a drive and speech peaks at its input [dBm].

    Of diodes that differ, and halves of a winding that do, it is solved on the circuit. Of transistors it is
    an offset of the pair's base-emitter voltages in the way of the audio: to the sideband the carrier is as
    twice the offset to the audio's amplitude. Both are added as powers.
    """
    difference, emf = difference_v(mixer), 2 * float(peak_v(audio_dbm))
    if mixer.type == "transistor_array":
        # Half the EMF stands at the matched input, stepped up to the bases.
        amplitude = emf / 2 * sqrt(mixer.inner_ohm / PORT_OHM)
        devices, transformer = 2 * difference / amplitude, 0.0
    else:
        drive = min(max(drive_dbm, float(DRIVES_DBM[0])), float(DRIVES_DBM[-1]))
        made = _converted(mixer, np.array([drive]))
        # The converted signal per EMF is half the root of the gain between equal resistances.
        sideband = emf * sqrt(float(made.gain[0])) / 2
        # Two diodes differ by the root of two times what each strays.
        devices = float(made.carrier_per_volt[0]) * difference / sqrt(2) / sideband
        transformer = float(made.carrier_uneven_v[0]) * mixer.uneven_share / sideband
        # In a ring it cancels but for the digits.
        transformer = transformer if transformer > _NOTHING else 0.0
    devices = max(devices, _NOTHING)
    # A trimmer capacitor balances the ends of a winding that diodes hang on; an array has none.
    of_array = mixer.type == "transistor_array" and mixer.balance_trimmed == "both"
    trimmed = "resistance" if of_array else mixer.balance_trimmed
    untrimmed = -20 * log10(hypot(devices, transformer))
    return Balance(
        drive_dbm=drive_dbm,
        audio_dbm=audio_dbm,
        devices_db=-20 * log10(devices),
        transformer_db=-20 * log10(transformer) if transformer else None,
        untrimmed_db=untrimmed,
        trimmed_db=untrimmed + _TRIMMED_DB[trimmed],
        measured_db=mixer.measured_balance_db,
    )
