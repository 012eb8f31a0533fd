"""A mixer's parts, on preferred values and as built."""

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from math import pi

from core.circuits.circuit import DIODE_LEADS, Branch, Circuit, Hardware, Part, Port
from core.model.bands import Band
from core.model.stages.mixers import Mixer
from core.model.stages.stage import Way
from core.model.values.parts import NAMES, reference
from core.record import record
from core.stages.gate import gate
from core.stages.mixer_circuit import PORT_OHM, track_ohm
from core.stages.mixers.board import CONVERTED, OSCILLATOR, SIGNAL, Key, board
from core.stages.mixers.coils import OHM, Trifilar, core_ohm, trifilar
from core.stages.outcome import PartRow, Unsolved
from core.stages.parts import Built
from core.stages.wound import Wound
from core.trade.diodes import diodes
from core.trade.series import neighbours, preferred

#: At the audio port: impedance of what keeps RF out or shorts it over that around it, either way [-], and the
#: corner below speech [Hz]; common practice, no source.
_APART, _AUDIO_HZ = 10.0, 100.0
#: The trimmer of a modulator's balance, and the capacitor against it [F]; common practice, no source.
_TRIMMER_F, _AGAINST_F = (3e-12, 20e-12), 10e-12
#: Below this no oscillator of a rig runs [Hz]; the plan tells what is wrong.
_LEAST_HZ = 10e3


@record(kw_only=True)
class Lowest:
    """The lowest frequencies at a mixer's transformers, of the signal and of the oscillator [Hz]; the same
    for the audio port's highest, the IF.
    """

    signal_hz: float
    oscillator_hz: float


@record(eq=False, kw_only=True)
class MixerDesign:
    """A mixer's circuit on its resulting parts. Compared by identity, as all designs are.

    `transformers` are by number, that of the signal first; `ends` what its ports are called.
    """

    type: str
    oscillator: str
    circuit: Circuit
    parts: tuple[PartRow, ...]
    transformers: Mapping[int, Trifilar]
    span_hz: tuple[float, float] = (1e6, 60e6)

    @property
    def bodies(self) -> Mapping[str, tuple[str, tuple[str, ...], str]]:
        """Package of each diode with the order of its leads and where that is from, by reference."""
        packages = {of.name: of.package for of in diodes().values()}
        return {row.ref: (packages[row.type], DIODE_LEADS, "") for row in self.parts if row.kind == "diode"}

    @property
    def wound(self) -> tuple[tuple[str, Wound], ...]:
        """How one winding of each transformer is wound, by reference; empty where no core was chosen."""
        made = ((reference("mixer", "transformer", n), each.wound) for n, each in self.transformers.items())
        return tuple((ref, wound) for ref, wound in made if wound is not None)

    def signal_lost_db(self, f_hz: float) -> float:
        """What inductance and leakage of the signal's transformer take at a frequency [Hz], dB."""
        return self.transformers[1].lost_db(f_hz) if 1 in self.transformers else 0.0

    @property
    def drive_lost_db(self) -> float:
        """What those of the oscillator's transformer take of the drive at its lowest frequency, dB."""
        made = self.transformers.get(2)
        return 0.0 if made is None else made.lost_db(made.lowest_hz)

    def takes_winding(self, way: Way) -> bool:
        """Whether the signal comes in at the winding in a direction, and so leaves at its tap."""
        return way == "receive"

    @property
    def drawing(self) -> "MixerDesign":
        """Drawn as it is."""
        return self


def lowest(mixer: Mixer, bands: tuple[Band, ...], if_hz: float) -> Lowest:
    """Where a mixer's transformers must still work in a rig of some bands and an IF [Hz], to two digits, so
    that turning the IF winds nothing afresh.
    """
    signal_hz = oscillator_hz = if_hz
    if mixer.oscillator == "vfo":
        signal_hz = min(band.low_hz for band in bands)
        oscillator_hz = min(_vfo_hz(band, if_hz) for band in bands)
    return Lowest(signal_hz=_rounded(signal_hz), oscillator_hz=_rounded(oscillator_hz))


def _vfo_hz(band: Band, if_hz: float) -> float:
    """The lowest frequency of the VFO on a band [Hz]."""
    if band.scheme == "vfo_minus_if":
        return band.low_hz + if_hz
    return min(abs(dial - if_hz) for dial in (band.low_hz, band.high_hz))


def _rounded(f_hz: float) -> float:
    return float(f"{max(f_hz, _LEAST_HZ):.2g}")


_READ = ("gain_db", "noise_figure_db", "iip3_dbm", "p1db_in_dbm", "drive_dbm", "oscillator_leak_db")


def design(mixer: Mixer, at: Lowest) -> MixerDesign | Unsolved:
    """The parts of a mixer whose transformers work from some frequencies on."""
    return _design(_bare(mixer), at)


@lru_cache(maxsize=64)
def _bare(mixer: Mixer) -> Mixer:
    """A mixer without its name and without readings of its figures: one for all that are soldered alike."""
    made = Mixer(**{**mixer.model_dump(exclude=set(_READ)), "id": "mixer", "name": "Mixer", "in_path": True})
    return made.edited(("measured_balance_db",), None)


@lru_cache(maxsize=64)
@gate("The mixer")
def _design(mixer: Mixer, at: Lowest) -> MixerDesign | Unsolved:
    coils: dict[int, Trifilar] = {}
    slots = board(mixer)
    for role, which, _ in slots:
        if role == "transformer":
            assert isinstance(which, int)
            made = trifilar(mixer.core, at.signal_hz if which == 1 else at.oscillator_hz)
            if isinstance(made, Unsolved):
                return made
            coils[which] = made
    rows = _rows(mixer, at, coils)
    fitted = {(row.role, row.which): row.fitted for row in rows}
    lost_ohm = core_ohm(mixer.transformer_loss_db)
    branches = []
    for role, which, nodes in slots:
        ref, kind = reference("mixer", role, which), NAMES["mixer"][role].kind
        if role == "transformer":
            assert isinstance(which, int)
            branches.append(Branch(coils[which].windings(ref, which), nodes))
        elif role == "diode":
            diode = Hardware(ref, DIODE_LEADS, diodes()[mixer.diode].model, role, which)
            branches.append(Branch(diode, nodes))
        elif role == "potentiometer":
            # Both halves of the track, the wiper in the middle, are one part.
            ohm, one = fitted["potentiometer", None] / 2, reference("mixer", role)
            branches.append(Branch(Part(one, "resistor", ohm, role=role, which=which), nodes))
        elif role == "stray":
            if lost_ohm is not None:
                branches.append(Branch(Part(ref, "resistor", lost_ohm, role=role, which=which), nodes))
        else:
            assert kind in ("resistor", "capacitor", "inductor")
            branches.append(Branch(Part(ref, kind, fitted[role, which], role=role, which=which), nodes))  # type: ignore[index, arg-type]
    return MixerDesign(
        type=mixer.type,
        oscillator=mixer.oscillator,
        circuit=Circuit(
            tuple(branches), tuple(Port(each, PORT_OHM) for each in (SIGNAL, OSCILLATOR, CONVERTED))
        ),
        parts=rows,
        transformers=coils,
    )


def _rows(mixer: Mixer, at: Lowest, coils: Mapping[int, Trifilar]) -> tuple[PartRow, ...]:
    """The rows of all parts, in the order of the board."""
    built, values = Built("mixer", mixer.as_built), _values(mixer, at)
    found: dict[Key, PartRow] = {}
    for role, which, _ in board(mixer):
        if role == "transformer":
            assert isinstance(which, int)
            found[role, which] = built.row(role, which, 1.0, 1.0, coils[which].note, coils[which].told)
        elif role == "diode":
            found[role, which] = built.row(role, which, 1.0, 1.0, diodes()[mixer.diode].name)
        elif role == "potentiometer":
            found[role, None] = built.row(role, None, *values[role], "preset, cermet")
        elif role == "trimmer":
            row = built.row(role, which, *values[role], "set for the least carrier")
            found[role, which] = replace(row, trimmer_f=_TRIMMER_F)
        elif role != "stray":
            found[role, which] = built.row(role, which, *values[role])
    return tuple(found.values())


def _values(mixer: Mixer, at: Lowest) -> Mapping[str, tuple[float, float]]:
    """Exact and preferred values of the parts that a mixer may have, by role."""
    omega = 2 * pi * at.signal_hz
    short_f, choke_h = _APART / (omega * OHM), _APART * OHM / omega
    audio_f = 1 / (2 * pi * _AUDIO_HZ * 2 * OHM)
    found: dict[str, tuple[float, float]] = {
        "termination": (OHM, preferred(OHM, "E24")),
        "termination_block": (short_f, neighbours(short_f, "E6")[1]),
        "choke": (choke_h, neighbours(choke_h, "E12")[1]),
        "bypass": (short_f, neighbours(short_f, "E6")[1]),
        "coupling": (audio_f, neighbours(audio_f, "E6")[1]),
        "trimmer": (_AGAINST_F, _AGAINST_F),
        "balance_capacitor": (_AGAINST_F, _AGAINST_F),
    }
    track = track_ohm(mixer)
    if track is not None:
        found["potentiometer"] = track
        found["balance_resistor"] = (track[1] / 2, preferred(track[1] / 2, "E24"))
    return found
