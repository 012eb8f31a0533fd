"""Which parts of an amplifier are off, by its measured curve.

The same fit as that of a filter (`curve_fit`), on the amplifier's own circuit: its bias is found anew with
every value. Gain is nearly a straight line in the logarithms of the values, so the circuit is solved around
one set of them, each a little larger, and again around the values so found.
"""

from dataclasses import replace
from typing import TypeVar

import numpy as np

from core.circuits.active.linear import Linear, around
from core.circuits.active.many import at_rest
from core.circuits.active.operating import bias
from core.circuits.active.two_port import of_linear
from core.circuits.circuit import Bipolar, Circuit, CoupledCoils, Part, Transistor
from core.circuits.ladder import Array, ComplexArray, Response, frozen
from core.record import record
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.built.curve_fit import explained
from core.stages.built.curve_subject import CurveFit, Subject, Variable
from core.stages.gate import gate
from core.stages.outcome import Unsolved

T = TypeVar("T")
#: Standard deviations [-]: of resistors and capacitors as far as wrong ones are soldered in, not only of
#: their tolerance; of windings on ferrite, of a transistor's current gain or field-effect current, and
#: of its transition frequency. Common practice, no source.
_RESISTOR, _CAPACITOR, _WINDING, _GAIN, _SPEED = 0.15, 1.0, 0.15, 0.4, 0.2
#: How far the 0 dB of what measures a gain may be off [dB], set by a piece of cable in the amplifier's place;
#: common practice, no source. Points that are fitted.
_ZERO_DB, _POINTS = 0.05, 61
#: By how much a value is made larger to see what it does [-].
_STEP = 1e-3
#: How often the circuit is solved anew around the values found, and the move that needs no further round.
_ROUNDS, _SETTLED = 4, 0.2


@record
class _Knob:
    """A variable, and its key among the `Times` of circuits that differ in values only."""

    key: str
    variable: Variable

    def times(self, move: float) -> float:
        """How many times as large its value is, moved so far [standard deviations]."""
        return float(np.exp(self.variable.scale * move))


@gate("The fit of the measured curve")
def fit_amplifier(
    design: AmplifierDesign,
    f_hz: Array,
    s21_db: Array,
    *,
    s11: ComplexArray | None = None,
    source_ohm: float | None = None,
    load_ohm: float | None = None,
) -> CurveFit | Unsolved:
    """The parts of an amplifier that explain a curve measured at `f_hz` (F,) [Hz], S21 in dB; arguments as
    those of `curve_fit.fit`.
    """
    ends = tuple(
        port.ohm if ohm is None else ohm
        for port, ohm in zip(design.circuit.ports, (source_ohm, load_ohm), strict=True)
    )
    circuit = replace(
        design.circuit,
        ports=tuple(replace(port, ohm=ohm) for port, ohm in zip(design.circuit.ports, ends, strict=True)),
    )
    knobs = _knobs(circuit)
    moves = np.zeros(len(knobs))
    found: CurveFit | Unsolved = Unsolved("There is nothing in this amplifier that could be off.")
    for _ in range(_ROUNDS):
        subject = Subject(
            rows=tuple(row for row in design.parts if row.kind in ("resistor", "capacitor", "inductor")),
            variables=tuple(knob.variable for knob in knobs),
            trimmed=(),
            span_hz=design.span_hz,
            what="amplifier",
            solve=_Straight(circuit, knobs, moves).solve,
            q_place=None,
            zero_db=_ZERO_DB,
            points=_POINTS,
        )
        found = explained(subject, f_hz, s21_db, s11)
        if isinstance(found, Unsolved) or float(np.abs(found.moves - moves).max()) < _SETTLED:
            return found
        moves = np.asarray(found.moves)
    return found


class _Straight:
    """The amplifier as straight lines in its variables about some moves of them."""

    def __init__(self, circuit: Circuit, knobs: tuple[_Knob, ...], moves: Array) -> None:
        self._circuit, self._knobs, self._moves = circuit, knobs, moves
        self._made: dict[bytes, tuple[Response, ComplexArray, ComplexArray, Response]] = {}

    def solve(self, f: Array, moves: Array | None) -> Response:
        """Its response at frequencies (F,) [Hz] for moves (rows, variables); as it was taken to be for None.

        Raises `ValueError` where the circuit has no state at rest or no single answer there.
        """
        made = self._made.get(f.tobytes())
        if made is None:
            made = self._made[f.tobytes()] = self._about(f)
        here, level, back, taken = made
        if moves is None:
            return taken
        step = moves - self._moves
        return Response(here.f_hz, here.s11 + step @ back, here.s21 * np.exp(step @ level))

    def _about(self, f: Array) -> tuple[Response, ComplexArray, ComplexArray, Response]:
        circuit, count = self._circuit, len(self._knobs)
        rest = _known(bias(circuit))
        # The first circuit is at the moves, each other one has one variable a little larger.
        times = {
            knob.key: np.full(count + 1, knob.times(float(move)))
            for knob, move in zip(self._knobs, self._moves, strict=True)
        }
        for n, knob in enumerate(self._knobs, start=1):
            times[knob.key][n] *= knob.times(_STEP)
        rests, settled = at_rest(circuit, rest, times)
        if not settled.all():
            raise ValueError("The direct currents do not settle with values so far off.")
        linear = _known(around(circuit, rests, times))
        s11, s21 = _between(linear, f, *(port.ohm for port in circuit.ports))
        level = np.log(s21[1:] / s21[0]) / _STEP
        back = (s11[1:] - s11[0]) / _STEP
        own11, own21 = _between(_known(around(circuit, rest)), f, *(port.ohm for port in circuit.ports))
        return Response(f, s11[0], s21[0]), frozen(level), frozen(back), Response(f, own11, own21)


def _known(found: T | Unsolved) -> T:
    if isinstance(found, Unsolved):
        raise ValueError(found.reason)
    return found


def _between(
    linear: Linear, f: Array, source_ohm: float, load_ohm: float
) -> tuple[ComplexArray, ComplexArray]:
    """S11 and S21 (..., F) of a circuit, or of several (circuits, F)."""
    # One frequency at a time: all of them of all circuits would fill the memory.
    chains = [_known(of_linear(linear, [float(each)])).chain for each in f]
    (a, b), (c, d) = np.concatenate(chains, axis=-1)
    over = a * load_ohm + b + source_ohm * (c * load_ohm + d)
    back = a * load_ohm + b - source_ohm * (c * load_ohm + d)
    return back / over, 2 * np.sqrt(source_ohm * load_ohm) / over


def _knobs(circuit: Circuit) -> tuple[_Knob, ...]:
    """A variable a part, and those of transformers and transistors, which are no part's own."""
    found = []
    for part in (branch.part for branch in circuit.branches):
        if isinstance(part, Part):
            scale = {"resistor": _RESISTOR, "capacitor": _CAPACITOR}.get(part.kind, _WINDING)
            found.append(_Knob(part.ref, Variable((part.ref,), (part.value,), scale)))
        elif isinstance(part, CoupledCoils):
            found.append(_Knob(part.ref, Variable((f"{part.ref}.h",), (part.secondary_h,), _WINDING)))
        elif isinstance(part, Transistor):
            device, gain, speed = part.device, f"{part.ref}.gain", f"{part.ref}.speed"
            strength = device.current_gain if isinstance(device, Bipolar) else device.slope_a_v2
            found.append(_Knob(gain, Variable((gain,), (strength,), _GAIN)))
            if isinstance(device, Bipolar):
                found.append(_Knob(speed, Variable((speed,), (device.transition_hz,), _SPEED)))
    return tuple(found)
