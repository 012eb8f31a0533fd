"""A mixer's parts, on preferred values and as built."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from math import pi
from typing import Literal

from core.circuits.active.operating import Bias, bias, bias_near
from core.circuits.circuit import DIODE_LEADS, Bipolar, Branch, Circuit, Hardware, Part, Port, Rail
from core.model.bands import Band
from core.model.stages.mixers import READINGS, Mixer
from core.model.stages.stage import Way
from core.model.transistors import OwnTransistor
from core.model.values.part_names import NAMES, reference
from core.record import record
from core.stages.gate import gate
from core.stages.mixers import array
from core.stages.mixers.board import CONVERTED, OSCILLATOR, SIGNAL, Key, board
from core.stages.mixers.coils import OHM, Transformer, core_ohm, stepped, trifilar
from core.stages.mixers.drive import PORT_OHM, track_ohm
from core.stages.mixers.on_hand import Balance, balanced, coupled
from core.stages.on_hand import ALL_BOUGHT, Shelf
from core.stages.outcome import PartRow, Unsolved
from core.stages.parts import Built
from core.stages.transistors import transistor
from core.stages.wound import Wound
from core.trade.devices import Row
from core.trade.diodes import diodes
from core.trade.series import neighbours, preferred

#: At the audio port: impedance of what keeps RF out or shorts it over that around it, either way [-], and the
#: corner below speech [Hz]; common practice, no source.
_APART, _AUDIO_HZ = 10.0, 100.0
#: The trimmer of a modulator's balance, and the capacitor against it; common practice, no source.
_BALANCE = Balance(trimmer_f=(3e-12, 20e-12), against_f=10e-12)
#: Below this no oscillator of a rig runs [Hz]; the plan tells what is wrong.
_LEAST_HZ = 10e3


#: What a transformer's further windings are called.
_HALVES = ("second", "third")


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
    transformers: Mapping[int, Transformer]
    span_hz: tuple[float, float] = (1e6, 60e6)

    @property
    def bodies(self) -> Mapping[str, tuple[str, tuple[str, ...], str]]:
        """Package of each diode with the order of its leads and where that is from, by reference."""
        packages = {of.name: of.package for of in diodes().values()}
        return {row.ref: (packages[row.type], DIODE_LEADS, "") for row in self.parts if row.kind == "diode"}

    @property
    def wound(self) -> tuple[tuple[str, Wound], ...]:
        """How each transformer is wound, by reference: one winding for all where they are alike, then those
        that are not; empty where no core was chosen.
        """
        found = []
        for n, each in self.transformers.items():
            ref = reference("mixer", "transformer", n)
            named = ((ref, each.wound), *((f"{ref}, {word} winding", each.half) for word in _HALVES))
            found += [(name, wound) for name, wound in named if wound is not None]
        return tuple(found)

    @property
    def first(self) -> Transformer:
        """The transformer that the signal passes first; every mixer has one."""
        return self.transformers[min(self.transformers)]

    def signal_lost_db(self, f_hz: float) -> float:
        """What inductance and leakage of the signal's transformer take at a frequency [Hz], dB."""
        return self.first.lost_db(f_hz)

    @property
    def drive_lost_db(self) -> float:
        """What those of the oscillator's transformer take of the drive at its lowest frequency, dB."""
        made = self.transformers.get(2)
        return 0.0 if made is None else made.lost_db(made.lowest_hz)

    def ends(self, way: Way) -> tuple[str, str]:
        """The nodes where the signal comes in and leaves in a direction; transistors work one way only."""
        ends = SIGNAL, CONVERTED
        return ends if way == "receive" or self.type == "transistor_array" else ends[::-1]

    def port_ohm(self, end: Literal["input", "output"], nominal: complex) -> complex:
        """What its neighbours see at an end [ohm], `nominal` unless its circuit has another there."""
        return nominal

    @property
    def drawing(self) -> "MixerDesign":
        """Drawn as it is."""
        return self


@record(eq=False, kw_only=True)
class ArrayDesign(MixerDesign):
    """The same of transistors, at rest; `transistor` is their type."""

    rest: Bias
    transistor: Row

    @property
    def supply_a(self) -> float:
        """What it takes from its supply, A."""
        return sum(self.rest.rails_a.values())

    def at_supply_a(self, supply_v: float) -> float | None:
        """What it takes from another supply [V], A; None where that does not settle."""
        rails = tuple(Rail(each.node, supply_v) for each in self.circuit.rails)
        found = bias_near(replace(self.circuit, rails=rails), self.rest)
        return None if isinstance(found, Unsolved) else sum(found.rails_a.values())

    def port_ohm(self, end: Literal["input", "output"], nominal: complex) -> complex:
        """Without a transformer its own resistor is all there is, at audio."""
        node = SIGNAL if end == "input" else CONVERTED
        return next(port.ohm for port in self.circuit.ports if port.node == node)

    def signal_lost_db(self, f_hz: float) -> float:
        """What inductance and leakage of the transformers at either end take at a frequency [Hz], or at the
        lowest that they must pass where that is higher, dB.
        """
        return sum(each.lost_db(max(f_hz, each.lowest_hz)) for each in self.transformers.values())

    @property
    def drive_lost_db(self) -> float:
        """The oscillator's port has no transformer."""
        return 0.0


def lowest(mixer: Mixer, bands: tuple[Band, ...], if_hz: float) -> Lowest:
    """Where a mixer's transformers must still work in a rig of some bands and an IF [Hz], to two digits, so
    that turning the IF winds nothing afresh.
    """
    signal_hz = oscillator_hz = if_hz
    if mixer.oscillator == "vfo":
        signal_hz = min((band.low_hz for band in bands), default=if_hz)
        if mixer.type == "transistor_array":
            # It has a transformer at the IF too.
            signal_hz = min(signal_hz, if_hz)
        oscillator_hz = min((_vfo_hz(band, if_hz) for band in bands), default=if_hz)
    return Lowest(signal_hz=_rounded(signal_hz), oscillator_hz=_rounded(oscillator_hz))


def _vfo_hz(band: Band, if_hz: float) -> float:
    """The lowest frequency of the VFO on a band [Hz]."""
    if band.scheme == "vfo_minus_if":
        return band.low_hz + if_hz
    return min(abs(dial - if_hz) for dial in (band.low_hz, band.high_hz))


def _rounded(f_hz: float) -> float:
    return float(f"{max(f_hz, _LEAST_HZ):.2g}")


def design(
    mixer: Mixer, at: Lowest, own: Sequence[OwnTransistor] = (), shelf: Shelf = ALL_BOUGHT
) -> MixerDesign | Unsolved:
    """The parts of a mixer whose transformers work from some frequencies on; `own` are the builder's own
    transistors. What is on the `shelf` is taken where it does as well.
    """
    if mixer.type != "transistor_array":
        return _design(_bare(mixer), at, shelf)
    of = transistor(mixer.device, own)
    return of if isinstance(of, Unsolved) else _array(_bare(mixer), at, of, shelf)


def as_soldered(mixer: Mixer) -> Mixer:
    """A mixer of transistors with the tail current and the resistors at the emitters that its circuit on its
    resulting parts has; other mixers, and one that cannot be made, as they are.
    """
    return mixer if mixer.type != "transistor_array" or not mixer.members else _as_soldered(mixer)


@lru_cache(maxsize=64)
def _as_soldered(mixer: Mixer) -> Mixer:
    # Direct currents pass every transformer alike.
    made = design(mixer, Lowest(signal_hz=1e7, oscillator_hz=1e7))
    if not isinstance(made, ArrayDesign):
        return mixer
    fitted = {row.key: row.fitted for row in made.parts}
    degeneration = fitted.get("degeneration:1", 0.0) + fitted.get("potentiometer", 0.0) / 2
    found = mixer.edited(("tail_a",), array.tail_a(made.rest))
    return found.edited(("degeneration_ohm",), degeneration)


@lru_cache(maxsize=64)
@gate("The mixer")
def _array(mixer: Mixer, at: Lowest, of: Row, shelf: Shelf) -> MixerDesign | Unsolved:
    device = of.model
    if not isinstance(device, Bipolar):
        return Unsolved(
            f"This mixer is for bipolar transistors and {of.name} is none; choose another for it.", "device"
        )
    slots, coils = array.board(mixer), dict[int, Transformer]()
    for role, which, _ in slots:
        if role == "transformer":
            assert isinstance(which, int)
            made = stepped(mixer.core, at.signal_hz, mixer.inner_ohm)
            if isinstance(made, Unsolved):
                return made
            coils[which] = made
    given = coupled(slots, array.values(mixer, (at.signal_hz, at.oscillator_hz)), shelf)
    # The tail's resistor takes up what the others' rounding does to its current.
    tails = [
        array.trimmed(mixer, device, {place: pair[n] for place, pair in given.items()}, coils) for n in (0, 1)
    ]
    exact, rounded = tails
    if isinstance(exact, Unsolved):
        return exact
    if isinstance(rounded, Unsolved):
        return rounded
    given["emitter", None] = (exact, preferred(rounded, "E24"))
    built, rows = Built("mixer", mixer.as_built), dict[Key, PartRow]()
    for role, which, _ in slots:
        if role == "transformer":
            assert isinstance(which, int)
            rows[role, which] = built.row(role, which, 1.0, 1.0, coils[which].note, coils[which].told)
        elif role == "transistor":
            rows[role, which] = built.row(role, which, 1.0, 1.0, of.name)
        elif role == "potentiometer":
            rows[role, None] = built.row(role, None, *given[role, None], "preset, cermet")
        else:
            rows[role, which] = built.row(role, which, *given[role, which])
    circuit = array.circuit(mixer, device, {place: row.fitted for place, row in rows.items()}, coils)
    rest = bias(circuit)
    if isinstance(rest, Unsolved):
        return rest
    return ArrayDesign(
        type=mixer.type,
        oscillator=mixer.oscillator,
        circuit=circuit,
        parts=tuple(rows.values()),
        transformers=coils,
        rest=rest,
        transistor=of,
    )


@lru_cache(maxsize=64)
def _bare(mixer: Mixer) -> Mixer:
    """A mixer without its name and without readings of its figures: one for all that are soldered alike."""
    made = Mixer(
        **{**mixer.model_dump(exclude=set(READINGS)), "id": "mixer", "name": "Mixer", "in_path": True}
    )
    return made.edited(("measured_balance_db",), None)


@lru_cache(maxsize=64)
@gate("The mixer")
def _design(mixer: Mixer, at: Lowest, shelf: Shelf) -> MixerDesign | Unsolved:
    coils: dict[int, Transformer] = {}
    slots = board(mixer)
    for role, which, _ in slots:
        if role == "transformer":
            assert isinstance(which, int)
            made = trifilar(mixer.core, at.signal_hz if which == 1 else at.oscillator_hz)
            if isinstance(made, Unsolved):
                return made
            coils[which] = made
    rows = _rows(mixer, at, coils, shelf)
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


def _rows(mixer: Mixer, at: Lowest, coils: Mapping[int, Transformer], shelf: Shelf) -> tuple[PartRow, ...]:
    """The rows of all parts, in the order of the board."""
    built, slots, values = Built("mixer", mixer.as_built), board(mixer), _values(mixer, at)
    balance = balanced(_BALANCE, shelf)
    if any(role == "trimmer" for role, _, _ in slots):
        shelf = shelf.without((balance.against_f,))
    pairs = {(role, which): values[role] for role, which, _ in slots if role in values}
    pairs = coupled(slots, pairs, shelf)
    found: dict[Key, PartRow] = {}
    for role, which, _ in slots:
        if role == "transformer":
            assert isinstance(which, int)
            found[role, which] = built.row(role, which, 1.0, 1.0, coils[which].note, coils[which].told)
        elif role == "diode":
            found[role, which] = built.row(role, which, 1.0, 1.0, diodes()[mixer.diode].name)
        elif role == "potentiometer":
            found[role, None] = built.row(role, None, *pairs[role, which], "preset, cermet")
        elif role == "trimmer":
            setting = balance.against_f
            row = built.row(role, which, setting, setting, "set for the least carrier")
            found[role, which] = replace(row, trimmer_f=balance.trimmer_f)
        elif role == "balance_capacitor":
            found[role, which] = built.row(role, which, _BALANCE.against_f, balance.against_f)
        elif role != "stray":
            found[role, which] = built.row(role, which, *pairs[role, which])
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
    }
    track = track_ohm(mixer)
    if track is not None:
        found["potentiometer"] = track
        found["balance_resistor"] = (track[1] / 2, preferred(track[1] / 2, "E24"))
    return found
