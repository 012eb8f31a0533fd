"""Amplifiers on a chip, each as the few controlled sources that its data sheet's figures make.

One stage with one pole: gain, bandwidth, noise, output resistance and what of the supply gets through. What a
chip is inside is nobody's matter; a solver, the direct currents and a netlist all read the same elements.
"""

from math import pi
from typing import ClassVar

from core.record import record

GROUND = "0"
#: The node of a pin to which nothing but a capacitor is soldered.
BYPASS_PIN = "bypass pin"
#: Conductance at an inner node [S]; of no consequence outside.
_INNER_S = 1e-6


@record(kw_only=True)
class OperationalAmplifier:
    """An operational amplifier; leads output, plus, minus, supply.

    Open-loop gain [-], `gain_bandwidth_hz` [Hz], open-loop output resistance [ohm], noise voltage [V/√Hz] and
    noise current [A/√Hz] at 1 kHz, supply current [A], rejection of the supply [dB, at the input]. The output
    comes to within `high_v` of the supply and `low_v` of ground [V] and gives `most_a` at most [A].
    """

    gain: float
    gain_bandwidth_hz: float
    output_ohm: float
    noise_v: float
    noise_a: float
    supply_a: float
    rejection_db: float
    high_v: float
    low_v: float
    most_a: float
    leads: ClassVar[tuple[str, ...]] = ("output", "plus input", "minus input", "supply")


@record(kw_only=True)
class FixedAmplifier:
    """An amplifier with its feedback inside; leads output, input, two gain pins, supply.

    What goes in appears across `emitter_ohm` with `gain_ohm` behind it, which lies between the gain pins;
    the current in them times `feedback_ohm` is the output [ohm]. So more comes out with a resistor across the
    pins. `input_ohm` to ground; the output rests at half the supply. The rest as of an operational amplifier,
    with a bandwidth [Hz] that does not depend on the gain and the supply's rejection at the output.
    """

    feedback_ohm: float
    emitter_ohm: float
    gain_ohm: float
    input_ohm: float
    output_ohm: float
    bandwidth_hz: float
    noise_v: float
    supply_a: float
    rejection_db: float
    high_v: float
    low_v: float
    most_a: float
    leads: ClassVar[tuple[str, ...]] = ("output", "input", "gain pin", "other gain pin", "supply")


ChipDevice = OperationalAmplifier | FixedAmplifier


@record
class Chip:
    """A chip with the leads of its device."""

    ref: str
    device: ChipDevice
    role: str = "chip"
    which: int | str | None = None


@record(kw_only=True)
class Elements:
    """What a chip is made of: its inner nodes; currents from one node to another, `siemens` times the voltage
    between two more [S]; capacitors between nodes [F]; noise currents by density [A²/Hz]; and for direct
    currents alone further such sources, and what it draws from its supply [A].

    `output` are the nodes between which `output_s` [S] carries the output's current.
    """

    inner: tuple[str, ...]
    sources: tuple[tuple[tuple[str, str], tuple[str, str], float], ...]
    capacitors: tuple[tuple[str, str, float], ...]
    noise: tuple[tuple[str, str, float], ...]
    at_rest: tuple[tuple[tuple[str, str], tuple[str, str], float], ...]
    output: tuple[str, str]
    output_s: float


def elements(chip: Chip, nodes: tuple[str, ...]) -> Elements:
    """The elements of a chip between the nodes of its leads."""
    if isinstance(chip.device, OperationalAmplifier):
        return _operational(chip.ref, chip.device, nodes)
    return _fixed(chip.ref, chip.device, nodes)


def _resistor(a: str, b: str, siemens: float) -> tuple[tuple[str, str], tuple[str, str], float]:
    return (a, b), (a, b), siemens


def _operational(ref: str, of: OperationalAmplifier, nodes: tuple[str, ...]) -> Elements:
    out, plus, minus, supply = nodes
    inside, slope = f"{ref} inside", of.gain * _INNER_S
    output = 1 / of.output_ohm
    return Elements(
        inner=(inside,),
        sources=(
            ((GROUND, inside), (plus, minus), slope),
            ((GROUND, inside), (supply, GROUND), slope * 10 ** (-of.rejection_db / 20)),
            _resistor(inside, GROUND, _INNER_S),
            ((GROUND, out), (inside, GROUND), output),
            _resistor(out, GROUND, output),
        ),
        capacitors=((inside, GROUND, slope / (2 * pi * of.gain_bandwidth_hz)),),
        noise=(
            (inside, GROUND, (slope * of.noise_v) ** 2),
            (plus, GROUND, of.noise_a**2),
            (minus, GROUND, of.noise_a**2),
        ),
        # At rest what the supply lets through is counted among the offsets, which are none here.
        at_rest=(((GROUND, inside), (supply, GROUND), -slope * 10 ** (-of.rejection_db / 20)),),
        output=(inside, out),
        output_s=output,
    )


def _fixed(ref: str, of: FixedAmplifier, nodes: tuple[str, ...]) -> Elements:
    out, into, pin, other, supply = nodes
    seen, inside = f"{ref} seen", f"{ref} inside"
    output, emitter = 1 / of.output_ohm, 1 / of.emitter_ohm
    lets_through = output * 10 ** (-of.rejection_db / 20)
    return Elements(
        inner=(seen, inside),
        sources=(
            _resistor(into, GROUND, 1 / of.input_ohm),
            ((GROUND, seen), (into, GROUND), _INNER_S),
            _resistor(seen, GROUND, _INNER_S),
            ((GROUND, pin), (seen, GROUND), emitter),
            _resistor(pin, GROUND, emitter),
            _resistor(pin, other, 1 / of.gain_ohm),
            # The far pin is ground to signals.
            _resistor(other, GROUND, 1e3),
            ((GROUND, inside), (seen, pin), _INNER_S * of.feedback_ohm * emitter),
            _resistor(inside, GROUND, _INNER_S),
            ((GROUND, out), (inside, GROUND), output),
            ((GROUND, out), (supply, GROUND), lets_through),
            _resistor(out, GROUND, output),
        ),
        capacitors=((inside, GROUND, _INNER_S / (2 * pi * of.bandwidth_hz)),),
        noise=((seen, GROUND, (_INNER_S * of.noise_v) ** 2),),
        at_rest=(((GROUND, out), (supply, GROUND), output / 2 - lets_through),),
        output=(inside, out),
        output_s=output,
    )
