"""What still works as the supply falls or rises."""

from collections.abc import Sequence

import numpy as np

from core.circuits.ladder import Array, frozen
from core.record import record
from core.rig.analysis import Analysis
from core.rig.supply.consumers import Feeding, feeding
from core.rig.supply.state import totals
from core.stages.kinds.table import kind_of
from core.trade.supply.feeding import regulators

_POINTS = 25
#: Relays' coils bear so much of their nominal voltage [-]; from memory.
_COIL_BEARS = 1.5


@record(kw_only=True)
class Range:
    """Voltages at the rig between which something works [V]; `most_v` None: no limit is known."""

    name: str
    what: str
    least_v: float
    most_v: float | None


@record(eq=False, kw_only=True)
class Works:
    """What works over the voltage at the rig: ranges, and the power amplifier's output over some voltages,
    shapes (V,) [V, W], None without one; `estimated` where that is by the square of the voltage only. `lines`
    are the voltages that the rig sees, by what they are [V].
    """

    ranges: tuple[Range, ...]
    volt: Array
    power_w: Array | None
    estimated: bool
    lines: tuple[tuple[str, float], ...]


def ranges(feeding: Feeding) -> tuple[Range, ...]:
    """Between which voltages regulators hold and relays pull in."""
    found = []
    for each in feeding.supply.regulators:
        row = regulators()[each.type]
        least = each.output_v + row.drop_out_v
        found.append(Range(name=each.name, what="regulator holds", least_v=least, most_v=row.most_in_v))
    for relay in feeding.supply.relays:
        least = relay.coil_v * relay.pull_in_share
        found.append(
            Range(name=relay.name, what="relay pulls in", least_v=least, most_v=_COIL_BEARS * relay.coil_v)
        )
    return tuple(found)


def power_over(analysis: Analysis, volt: Sequence[float]) -> tuple[Array, bool] | None:
    """Output of the power amplifier [W] at voltages [V], and whether that is an estimate by the square of the
    voltage; None without one.
    """
    stages = [s for s in analysis.project.path("transmit") if kind_of(s).role == "power_amplifier"]
    if not stages:
        return None
    stage = stages[0]
    told = [kind_of(stage).largest_w(stage, analysis.surroundings, float(each)) for each in volt]
    known = [each for each in told if each is not None]
    if len(known) == len(told):
        return frozen(np.array(known)), False
    nominal = analysis.project.station.supply_v
    return frozen(analysis.full_power_w * (np.array(volt) / nominal) ** 2), True


def works(analysis: Analysis) -> Works | None:
    """What works over the supply's voltage; None where no supply is planned."""
    of = feeding(analysis)
    if of is None:
        return None
    found, lines = ranges(of), _lines(of)
    low = min([0.7 * of.empty_v, *(each.least_v for each in found), *(v for _, v in lines)]) - 0.5
    high = max(1.1 * of.full_v, *(each.least_v for each in found), of.full_v) + 0.5
    volt = np.linspace(max(low, 0.0), high, _POINTS)
    power = power_over(analysis, volt.tolist())
    return Works(
        ranges=found,
        volt=frozen(volt),
        power_w=None if power is None else power[0],
        estimated=power is not None and power[1],
        lines=lines,
    )


def _lines(of: Feeding) -> tuple[tuple[str, float], ...]:
    """The voltages at the rig between which it has to work."""
    rows = totals(of)
    lines = [(f"{rows[0].of}, receive", rows[0].receive_v)]
    sends = "transmit" if of.sends_dbm is not None else "receive"
    lines.append(
        (f"{rows[-1].of}, {sends}", rows[-1].transmit_v if sends == "transmit" else rows[-1].receive_v)
    )
    return tuple(lines)
