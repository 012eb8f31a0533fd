"""How mixers of diodes are soldered: their parts between nodes, by role and number.

Which way round the diodes stand, and what each sees of the ports, is as in `core.circuits.switching.diodes`.
"""

from collections.abc import Iterator

from core.circuits.circuit import GROUND
from core.model.stages.mixers import Mixer
from core.model.values.parts import Role, Which

#: The winding's port, the oscillator's, and where the converted signal is taken from the winding's tap.
SIGNAL, OSCILLATOR, CONVERTED = "signal", "oscillator", "converted"
Key = tuple[Role, Which]
#: A place on the board: role and number, and the nodes it is soldered between (of a diode anode and cathode,
#: of a transformer both ends of each winding).
Slot = tuple[Role, Which, tuple[str, ...]]


def board(mixer: Mixer) -> tuple[Slot, ...]:
    """All places of a mixer of diodes."""
    with_audio = mixer.oscillator == "carrier"
    tap = "tap" if with_audio else CONVERTED
    trimmed = mixer.is_modulator and mixer.balance_trimmed != "not_at_all"
    made = _ring if mixer.type == "ring" else _two_diodes
    return (
        ("transformer", 1, (SIGNAL, GROUND, "p", tap, tap, "q")),
        ("stray", 1, (SIGNAL, GROUND)),
        *made(trimmed),
        *(_capacitance() if trimmed and mixer.balance_trimmed == "both" else ()),
        *(_audio(tap) if with_audio else ()),
    )


def _ring(trimmed: bool) -> Iterator[Slot]:
    """Each corner of the signal's winding ends between two diodes, one end at the potentiometer's wiper; the
    other has resistors as large as half its track, so that both half periods lose alike.
    """
    yield "transformer", 2, (OSCILLATOR, GROUND, "r", GROUND, GROUND, "s")
    yield "stray", 2, (OSCILLATOR, GROUND)
    p1, p2, q3, q4 = ("p1", "p2", "q3", "q4") if trimmed else ("p", "p", "q", "q")
    yield "diode", 1, ("r", p1)
    yield "diode", 2, (p2, "s")
    yield "diode", 3, ("s", q3)
    yield "diode", 4, (q4, "r")
    if trimmed:
        yield "potentiometer", 1, (p1, "p")
        yield "potentiometer", 2, ("p", p2)
        yield "balance_resistor", 1, (q3, "q")
        yield "balance_resistor", 2, ("q", q4)


def _two_diodes(trimmed: bool) -> Iterator[Slot]:
    """The oscillator at the diodes' joint, which is the potentiometer's wiper."""
    one, two = ("d1", "d2") if trimmed else (OSCILLATOR, OSCILLATOR)
    yield "diode", 1, (one, "p")
    yield "diode", 2, ("q", two)
    if trimmed:
        yield "potentiometer", 1, (one, OSCILLATOR)
        yield "potentiometer", 2, (OSCILLATOR, two)


def _capacitance() -> Iterator[Slot]:
    """A trimmer at one end of the winding against a fixed capacitor at the other."""
    yield "trimmer", None, ("p", GROUND)
    yield "balance_capacitor", None, ("q", GROUND)


def _audio(tap: str) -> Iterator[Slot]:
    """Between the tap and audio: a resistor that ends the tap at RF, a choke and a capacitor that keep RF out
    of audio, and one that keeps the audio stage's direct voltage off the diodes.
    """
    yield "termination", None, (tap, "t")
    yield "termination_block", None, ("t", GROUND)
    yield "choke", None, (tap, "a")
    yield "bypass", None, ("a", GROUND)
    yield "coupling", None, ("a", CONVERTED)
