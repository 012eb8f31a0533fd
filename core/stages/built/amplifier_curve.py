"""Which parts of an amplifier are off, by its measured curve.

The same fit as that of a filter (`curve_fit`), on the amplifier's own circuit: its bias is found anew with
every value. Gain is nearly a straight line in the logarithms of the values, so the circuit is solved around
one set of them, each a little larger, and again around the values so found.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

import numpy as np

from core.circuits.active.linear import Linear, around
from core.circuits.active.nudged import nudged
from core.circuits.active.operating import bias
from core.circuits.active.two_port import TwoPort, alike
from core.circuits.circuit import Bipolar, Branch, Circuit, CoupledCoils, Part, SquareLaw, Transistor
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
    """A variable of the part `ref`, and what makes its branch that many times larger in it."""

    ref: str
    variable: Variable
    turn: Callable[[Branch, float], Branch]

    def turned(self, branches: tuple[Branch, ...], move: float) -> tuple[Branch, ...]:
        """The branches with the variable moved [standard deviations]."""
        times = float(np.exp(self.variable.scale * move))
        return tuple(self.turn(each, times) if each.part.ref == self.ref else each for each in branches)


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
        branches = self._circuit.branches
        for knob, move in zip(self._knobs, self._moves, strict=True):
            branches = knob.turned(branches, float(move))
        circuit = replace(self._circuit, branches=branches)
        rest = _known(bias(circuit))
        turned = [knob.turned(branches, _STEP) for knob in self._knobs]
        linear = [_known(around(circuit, rest))]
        for changed in turned:
            moved = rest
            for was, now in zip(branches, changed, strict=True):
                if was is not now:
                    (moved,) = nudged(circuit, moved, [(was, now)])
            linear.append(_known(around(replace(circuit, branches=changed), moved)))
        s11, s21 = _between(linear, f, *(port.ohm for port in circuit.ports))
        level = np.log(s21[1:] / s21[0]) / _STEP
        back = (s11[1:] - s11[0]) / _STEP
        plain = _known(around(self._circuit, _known(bias(self._circuit))))
        own11, own21 = _between([plain], f, *(port.ohm for port in circuit.ports))
        return Response(f, s11[0], s21[0]), frozen(level), frozen(back), Response(f, own11[0], own21[0])


def _known(found: T | Unsolved) -> T:
    if isinstance(found, Unsolved):
        raise ValueError(found.reason)
    return found


def _between(
    linear: list[Linear], f: Array, source_ohm: float, load_ohm: float
) -> tuple[ComplexArray, ComplexArray]:
    """S11 and S21 (circuits, F) of circuits that differ in values only."""
    chains = [_known(alike(linear, float(each))) for each in f]
    (a, b), (c, d) = np.stack([_chain(each) for each in chains], axis=-1)
    over = a * load_ohm + b + source_ohm * (c * load_ohm + d)
    back = a * load_ohm + b - source_ohm * (c * load_ohm + d)
    return back / over, 2 * np.sqrt(source_ohm * load_ohm) / over


def _chain(of: TwoPort) -> ComplexArray:
    return of.chain


def _knobs(circuit: Circuit) -> tuple[_Knob, ...]:
    """A variable a part, and those of transformers and transistors, which are no part's own."""
    found = []
    for branch in circuit.branches:
        part = branch.part
        if isinstance(part, Part):
            scale = {"resistor": _RESISTOR, "capacitor": _CAPACITOR}.get(part.kind, _WINDING)
            found.append(_Knob(part.ref, Variable((part.ref,), (part.value,), scale), _larger))
        elif isinstance(part, CoupledCoils):
            found.append(_Knob(part.ref, Variable((f"{part.ref}.h",), (part.secondary_h,), _WINDING), _wound))
        elif isinstance(part, Transistor):
            device = part.device
            strength = device.current_gain if isinstance(device, Bipolar) else device.slope_a_v2
            found.append(_Knob(part.ref, Variable((f"{part.ref}.gain",), (strength,), _GAIN), _stronger))
            if isinstance(device, Bipolar):
                speed = Variable((f"{part.ref}.speed",), (device.transition_hz,), _SPEED)
                found.append(_Knob(part.ref, speed, _faster))
    return tuple(found)


def _larger(branch: Branch, times: float) -> Branch:
    part = branch.part
    return replace(branch, part=replace(part, value=part.value * times)) if isinstance(part, Part) else branch


def _wound(branch: Branch, times: float) -> Branch:
    part = branch.part
    if not isinstance(part, CoupledCoils):
        return branch
    wound = replace(part, primary_h=part.primary_h * times, secondary_h=part.secondary_h * times)
    return replace(branch, part=wound)


def _stronger(branch: Branch, times: float) -> Branch:
    part = branch.part
    if not isinstance(part, Transistor):
        return branch
    device = part.device
    stronger: Bipolar | SquareLaw
    if isinstance(device, Bipolar):
        stronger = replace(device, current_gain=device.current_gain * times)
    else:
        stronger = replace(device, slope_a_v2=device.slope_a_v2 * times)
    return replace(branch, part=replace(part, device=stronger))


def _faster(branch: Branch, times: float) -> Branch:
    part = branch.part
    if not isinstance(part, Transistor) or not isinstance(part.device, Bipolar):
        return branch
    faster = replace(part.device, transition_hz=part.device.transition_hz * times)
    return replace(branch, part=replace(part, device=faster))
