"""A mixer of transistors as it is soldered: six of them, their bias, and what couples signal and oscillator.

The lower pair takes the signal between its bases, the upper four are switched by the oscillator, which is
applied to one base of each pair while the other is at ground for RF (B. Gilbert, from memory). At RF and IF a
transformer stands at either end, at audio capacitors. Resistors from customary voltages; that of the tail is
trimmed to the current asked on the whole circuit's direct currents.
"""

from collections.abc import Iterator, Mapping
from math import pi

from core.circuits.active.operating import Bias, bias
from core.circuits.circuit import GROUND, Branch, Circuit, Device, Part, Port, Rail, Transistor
from core.model.stages.mixers import Mixer
from core.model.values.part_names import NAMES, reference
from core.model.values.parts import valued
from core.stages.mixers.board import CONVERTED, OSCILLATOR, SIGNAL, Key, Slot
from core.stages.mixers.coils import OHM, Transformer
from core.stages.mixers.drive import PORT_OHM, track_ohm
from core.stages.outcome import Unsolved
from core.trade.series import neighbours, preferred

SUPPLY = "supply"
#: Voltage of the tail and between the bases of lower and upper transistors over the supply [-]; base to
#: emitter [V]; what the divider carries over the tail's current [-]: common practice, no source.
_TAIL_SHARE, _BETWEEN_SHARE, _BASE_V, _DIVIDER = 1 / 6, 0.2, 0.65, 0.5
#: Resistance around what couples or shorts over its reactance [-], corners below and far above speech [Hz];
#: common practice, no source.
_APART, _AUDIO_HZ, _CUT_HZ = 10.0, 100.0, 50e3
#: A resistor smaller than this is none [ohm].
_LEAST_OHM = 1.0
_ROUNDS = 6


def board(mixer: Mixer) -> tuple[Slot, ...]:
    """All places of a mixer of transistors (leads collector, base, emitter)."""
    return (
        *_input(mixer),
        *_pairs(mixer),
        ("oscillator_load", None, ("l", "u")),
        ("coupling", 1, (OSCILLATOR, "l")),
        ("bias_upper", None, (SUPPLY, "u")),
        ("bias_middle", None, ("u", "v")),
        ("bias_lower", None, ("v", GROUND)),
        ("bypass", 1, ("u", GROUND)),
        ("bypass", 2, ("v", GROUND)),
        *_output(mixer),
    )


def _input(mixer: Mixer) -> Iterator[Slot]:
    if mixer.is_modulator:
        # The other base is at ground for audio, and fed through as much, so that both stand alike.
        yield "coupling", 2, (SIGNAL, "b1")
        yield "input_load", 1, ("b1", "v")
        yield "input_load", 2, ("b2", "v")
        yield "bypass", 3, ("b2", GROUND)
    else:
        yield "transformer", 1, (SIGNAL, GROUND, "b1", "v", "v", "b2")
        yield "input_load", 1, ("b1", "b2")


def _pairs(mixer: Mixer) -> Iterator[Slot]:
    trimmed = mixer.is_modulator and mixer.balance_trimmed != "not_at_all"
    feet = ("x1", "x2") if trimmed else ("t", "t")
    emitters = tuple(f"e{n}" if _degeneration(mixer) >= _LEAST_OHM else feet[n - 1] for n in (1, 2))
    yield "transistor", 1, ("c1", "b1", emitters[0])
    yield "transistor", 2, ("c2", "b2", emitters[1])
    for n, (emitter, foot) in enumerate(zip(emitters, feet, strict=True), 1):
        if emitter != foot:
            yield "degeneration", n, (emitter, foot)
    if trimmed:
        yield "potentiometer", 1, ("x1", "t")
        yield "potentiometer", 2, ("t", "x2")
    yield "emitter", None, ("t", GROUND)
    yield "transistor", 3, ("o1", "l", "c1")
    yield "transistor", 4, ("o2", "u", "c1")
    yield "transistor", 5, ("o1", "u", "c2")
    yield "transistor", 6, ("o2", "l", "c2")


def _output(mixer: Mixer) -> Iterator[Slot]:
    if mixer.gives_audio:
        yield "collector", 1, (SUPPLY, "o1")
        yield "collector", 2, (SUPPLY, "o2")
        yield "high_cut", None, ("o1", "o2")
        yield "coupling", 2, ("o1", CONVERTED)
    else:
        yield "load", None, ("o1", "o2")
        yield "transformer", 2, (CONVERTED, GROUND, "o1", SUPPLY, SUPPLY, "o2")


def _degeneration(mixer: Mixer) -> float:
    """What stands at each emitter beside half of the balance's track, ohm."""
    track = track_ohm(mixer)
    return mixer.degeneration_ohm - (0.0 if track is None else track[1] / 2)


def values(mixer: Mixer, lowest_hz: tuple[float, float]) -> Mapping[Key, tuple[float, float]]:
    """Exact and preferred values of every part that has one; `lowest_hz` are those of signal and oscillator
    [Hz].
    """
    supply, tail = mixer.supply_v, mixer.tail_a
    v = _TAIL_SHARE * supply + _BASE_V + tail / 2 * mixer.degeneration_ohm
    u = v + _BETWEEN_SHARE * supply
    through = _DIVIDER * tail
    rough: dict[Key, float] = {
        ("bias_upper", None): (supply - u) / through,
        ("bias_middle", None): (u - v) / through,
        ("bias_lower", None): v / through,
        ("emitter", None): _TAIL_SHARE * supply / tail,
        ("oscillator_load", None): PORT_OHM,
        ("input_load", 1): mixer.inner_ohm,
        ("input_load", 2): mixer.inner_ohm,
        ("load", None): mixer.inner_ohm,
        ("collector", 1): mixer.inner_ohm,
        ("collector", 2): mixer.inner_ohm,
        ("degeneration", 1): _degeneration(mixer),
        ("degeneration", 2): _degeneration(mixer),
    }
    found = {place: (ohm, preferred(ohm, "E24")) for place, ohm in rough.items() if ohm >= _LEAST_OHM}
    track = track_ohm(mixer)
    if track is not None:
        found["potentiometer", None] = track
    signal, oscillator = (2 * pi * hz for hz in lowest_hz)
    audio = 2 * pi * _AUDIO_HZ
    farads: dict[Key, float] = {
        ("coupling", 1): _APART / (oscillator * OHM),
        ("bypass", 1): _APART / (oscillator * OHM),
        ("bypass", 2): _APART / (signal * OHM),
        ("bypass", 3): _APART / (audio * mixer.inner_ohm),
        ("high_cut", None): 1 / (2 * pi * _CUT_HZ * 2 * mixer.inner_ohm),
        ("coupling", 2): 1 / (audio * 2 * mixer.inner_ohm),
    }
    if mixer.is_modulator:
        farads["bypass", 2] = _APART / (audio * mixer.inner_ohm)
    return found | {place: (farad, neighbours(farad, "E6")[1]) for place, farad in farads.items()}


def circuit(
    mixer: Mixer, device: Device, fitted: Mapping[Key, float], coils: Mapping[int, Transformer]
) -> Circuit:
    """The circuit with these values and transformers."""
    branches = []
    for role, which, nodes in board(mixer):
        ref, kind = reference("mixer", role, which), NAMES["mixer"][role].kind
        if role == "transistor":
            branches.append(Branch(Transistor(ref, device, role, which), nodes))
        elif role == "transformer":
            assert isinstance(which, int)
            branches.append(Branch(coils[which].windings(ref, which), nodes))
        elif role == "potentiometer":
            half = fitted["potentiometer", None] / 2
            one = Part(reference("mixer", role), "resistor", half, role=role, which=which)
            branches.append(Branch(one, nodes))
        else:
            branches.append(
                Branch(Part(ref, valued(kind), fitted[role, which], role=role, which=which), nodes)
            )
    ends = (
        Port(SIGNAL, mixer.inner_ohm if mixer.is_modulator else PORT_OHM),
        Port(OSCILLATOR, PORT_OHM),
        Port(CONVERTED, mixer.inner_ohm if mixer.gives_audio else PORT_OHM),
    )
    return Circuit(tuple(branches), ends, (Rail(SUPPLY, mixer.supply_v),))


def trimmed(
    mixer: Mixer, device: Device, given: Mapping[Key, float], coils: Mapping[int, Transformer]
) -> float | Unsolved:
    """The tail's resistor with which the tail carries what is asked [ohm], all others being as given."""
    values = dict(given)
    for _ in range(_ROUNDS):
        rest = bias(circuit(mixer, device, values, coils))
        if isinstance(rest, Unsolved):
            return rest
        got = tail_a(rest)
        if got <= 0:
            return Unsolved(
                f"At {mixer.supply_v:g} V no current flows in the transistors' tail; ask for more supply."
            )
        values["emitter", None] *= got / mixer.tail_a
    return values["emitter", None]


def tail_a(rest: Bias) -> float:
    """What the lower pair's collectors carry together [A]."""
    return sum(rest.transistors[reference("mixer", "transistor", n)].output_a for n in (1, 2))
