"""What a stage draws from its supply."""

from functools import lru_cache

from core.circuits.active.operating import bias_near
from core.circuits.active.oscillation import at_rest
from core.circuits.circuit import Circuit, Rail
from core.model.stages.oscillators import Vfo
from core.model.values.quantities import Volt, limits_of
from core.record import record
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign, without_row
from core.stages.outcome import Unsolved
from core.stages.vfo.oscillator import operating
from core.trade.devices import BipolarRow, devices


@record(kw_only=True)
class Draw:
    """What a stage draws in one direction at some voltage of its supply.

    `rest_a` without a signal, `full_a` at its largest output, None where that is the same [A]. `made_for_v`
    is the supply that its parts were chosen for and `bears_v` the most that it bears, None where nothing is
    known of either [V].
    """

    rest_a: float
    full_a: float | None = None
    made_for_v: float | None = None
    bears_v: float | None = None

    @property
    def most_a(self) -> float:
        """At its largest output, A."""
        return self.rest_a if self.full_a is None else self.full_a


#: Of what needs no supply: filters, pads, mixers of diodes.
NOTHING = Draw(rest_a=0.0)


_LEAST_V = limits_of(Volt)[0]


@lru_cache(maxsize=128)
def rest_a(made: AmplifierDesign, supply_v: float) -> float | None:
    """What an amplifier draws without a signal [A] when its supply is `supply_v` [V], by the direct currents
    of its circuit; None where these do not settle. A half of a pair that is not fed stays so.
    """
    rails = tuple(Rail(each.node, supply_v if each.volt else 0.0) for each in made.circuit.rails)
    if rails == made.circuit.rails:
        return made.supply_a
    found = bias_near(Circuit(made.circuit.branches, made.circuit.ports, rails), made.rest)
    return None if isinstance(found, Unsolved) else sum(found.rails_a.values())


def drawn(made: AmplifierDesign | Unsolved, supply_v: float, made_for_v: float) -> Draw | None:
    """What an amplifier that was made for a supply draws from this one [V]; None where it cannot be made."""
    ampere = None if isinstance(made, Unsolved) else rest_a(made, supply_v)
    return None if ampere is None else Draw(rest_a=ampere, made_for_v=made_for_v)


def vfo_draw(vfo: Vfo, supply_v: float) -> Draw | None:
    """What a VFO with a tank draws from its supply [V], its device and a bipolar one's divider; None of a VFO
    that is a block. Buffers behind it are none of the tank's parts.
    """
    if vfo.tank is None:
        return None
    feedback = vfo.tank.feedback
    # From less than can be asked for nothing flows that counts.
    ampere = operating(feedback.edited(("supply_v",), max(supply_v, _LEAST_V))).current_a
    row = devices()[feedback.device]
    # The resistor at source or emitter carries no more than the whole supply drives through it.
    ampere = min(ampere, max(supply_v, 0.0) / feedback.bias_ohm)
    if isinstance(row, BipolarRow):
        # The divider's upper resistor carries what the lower one leaves to the base.
        lower, upper = feedback.base_lower_ohm, feedback.base_upper_ohm
        base_a = ampere / (feedback.beta or row.current_gain)
        ampere += (supply_v + base_a * lower) / (upper + lower)
    return Draw(rest_a=ampere, made_for_v=feedback.supply_v)


def crystal_draw(made: CrystalOscillatorDesign, supply_v: float) -> Draw | None:
    """What a crystal oscillator draws from its supply [V] at rest, by the direct currents of its circuit;
    None where these do not settle. As it swings it draws some tenths of a milliampere more.
    """
    found = at_rest(without_row(made, supply_v))
    if isinstance(found, Unsolved):
        return None
    return Draw(rest_a=sum(found.rails_a.values()), made_for_v=made.asked.circuit.supply_v)
