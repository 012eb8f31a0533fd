"""How far a circuit's output can swing before something in it runs out, whatever it works into.

At one frequency every voltage and current inside a linear circuit follows from voltage and current at its
output, so two solutions with two loads tell each limit for any load. Derived here.
"""

from collections.abc import Sequence

import numpy as np

from core.circuits.active.linear import Linear
from core.circuits.circuit import Bipolar, Circuit
from core.circuits.devices.chips import elements
from core.circuits.ladder import ComplexArray
from core.record import record

#: A collector keeps this much voltage at audio [V]; saturation of small transistors, from memory.
LEAST_COLLECTOR_V = 0.3
#: Loads with which a circuit is solved, as shares of its port's [-].
_LOADS = (1.0, 3.0)


@record
class Swing:
    """Something that the output's swing takes: |`per_volt` V + `per_ampere` I| reaches `room`, V [V] and I
    [A] being the peaks at the output. `ref` and `what` tell of which part and what it runs out of.
    """

    ref: str
    what: str
    room: float
    per_volt: complex
    per_ampere: complex

    def most_v(self, load_ohm: complex) -> float:
        """The peak voltage at the output [V] with a load [ohm] at which this is reached."""
        takes = abs(self.per_volt + self.per_ampere / load_ohm)
        return float(self.room / takes) if takes > 0 else float("inf")


def least(swings: Sequence[Swing], load_ohm: complex) -> tuple[Swing, float]:
    """What is reached first with a load [ohm], and the peak voltage at the output then [V]."""
    found = [(each.most_v(load_ohm), n) for n, each in enumerate(swings)]
    most_v, at = min(found)
    return swings[at], most_v


def swings(circuit: Circuit, around: Linear, f_hz: float, free: Sequence[str] = ()) -> tuple[Swing, ...]:
    """Every limit of a circuit's transistors and chips at `f_hz` [Hz]; `free` are the references of
    transistors that leave class A by design, so that their current at rest is no limit.
    """
    pairs = [_solved(around, share * around.port_ohm[1], f_hz) for share in _LOADS]
    ends = np.array(
        [
            [v[around.ports[1]], v[around.ports[1]] / (share * around.port_ohm[1])]
            for share, v in zip(_LOADS, pairs, strict=True)
        ]
    )
    made = []
    for ref, what, room, seen in _limits(circuit, around):
        by_volt, by_ampere = np.linalg.solve(ends, np.array([seen(volts) for volts in pairs]))
        made.append(Swing(ref, what, max(room, 0.0), complex(by_volt), complex(by_ampere)))
    return tuple(made)


def _solved(around: Linear, load_ohm: float, f_hz: float) -> ComplexArray:
    """Node voltages with a volt behind the source's resistance, and a zero for ground."""
    f = np.array([f_hz])
    y = (around.passive_at(f) + around.active_at(f))[0]
    y[around.ports[0], around.ports[0]] += 1 / around.port_ohm[0]
    y[around.ports[1], around.ports[1]] += 1 / load_ohm
    driven = np.zeros(len(around.nodes), dtype=complex)
    driven[around.ports[0]] = 1 / around.port_ohm[0]
    return np.append(np.linalg.solve(y, driven), 0.0)


def _limits(circuit: Circuit, around: Linear):  # type: ignore[no-untyped-def]
    """Reference, what, room, and what of the node voltages takes it."""
    devices = {part.ref: part.device for part, _ in circuit.transistors}
    for at in around.transistors:
        point, device = around.bias.transistors[at.ref], devices[at.ref]
        output = point.series.output

        def current(v: ComplexArray, at=at, output=output) -> complex:  # type: ignore[no-untyped-def]
            return complex(
                output[1, 0] * (v[at.control] - v[at.common]) + output[0, 1] * (v[at.output] - v[at.common])
            )

        def voltage(v: ComplexArray, at=at) -> complex:  # type: ignore[no-untyped-def]
            return complex(v[at.output] - v[at.common])

        yield at.ref, "current", abs(point.output_a), current
        kept = (
            LEAST_COLLECTOR_V
            if isinstance(device, Bipolar)
            else device.sign * point.control_v - device.threshold_v
        )
        yield at.ref, "voltage", device.sign * point.output_v - kept, voltage
    places = {node: n for n, node in enumerate(around.nodes)}
    rails = {rail.node: rail.volt for rail in circuit.rails}
    for chip, nodes in circuit.chips:
        made, volts = elements(chip, nodes), around.bias.volts
        inside, out = (places.get(node, -1) for node in made.output)
        rest_v, supply_v = volts[nodes[0]], rails.get(nodes[-1], volts.get(nodes[-1], 0.0))
        room_v = min(supply_v - chip.device.high_v - rest_v, rest_v - chip.device.low_v)
        yield chip.ref, "voltage", room_v, lambda v, out=out: complex(v[out])

        def given(v: ComplexArray, inside=inside, out=out, siemens=made.output_s) -> complex:  # type: ignore[no-untyped-def]
            return complex(siemens * (v[inside] - v[out]))

        yield chip.ref, "current", chip.device.most_a, given
