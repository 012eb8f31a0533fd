"""Bias of a power stage from a regulator: the divider, its trimmer, and what follows the heat."""

from collections.abc import Callable, Mapping
from math import exp, log

from core.circuits.active.operating import Bias, bias
from core.circuits.bias import JUNCTION_A
from core.circuits.circuit import THERMAL_V, Bipolar, Circuit
from core.circuits.power.law import Law
from core.model.stages.built_power_amplifier import BuiltPowerAmplifier
from core.model.values.notation import format_value
from core.record import record
from core.stages.outcome import Unsolved
from core.stages.power_amplifier.board import Key
from core.trade.power_devices import PowerRow
from core.trade.series import VALUES, neighbours

#: Current through the divider [A] at a gate, which takes none, and at least at a base; how much more than a
#: base takes it is at least [-]; common practice, no source.
_GATE_A, _BASE_A, _STIFF = 1e-3, 5e-3, 2.0
#: How far a trimmer moves the voltage at a gate above and below the one wanted, V: thresholds of one type
#: scatter by a volt; at a base, whose voltage hardly scatters.
_GATE_RANGE_V, _BASE_RANGE_V = (1.0, 1.0), (0.06, 0.2)
#: A junction's drift at a steady current, V/K, and a thermistor's B, K; from memory.
JUNCTION_PER_K, THERMISTOR_K = -2e-3, 3950.0
ROOM_C, _ROOM_K = 25.0, 298.15
_MOST_TRACKERS = 3
_THERMISTORS_OHM = (100.0, 220.0, 470.0, 1e3, 2.2e3, 4.7e3, 10e3, 22e3, 47e3, 100e3, 220e3, 470e3)
#: Values that trimmers are sold in, within a decade.
_TRIMMERS = (1.0, 2.0, 5.0)
_ROUNDS = 5
#: Least share of a thermistor in the lower arm [-].
_LEAST_SHARE = 2e-3
#: Power of temperature with which a square law's slope changes: mobility of electrons, from memory.
_MOBILITY = -1.5
#: With its trimmer fully in, the upper arm has so many times the resistance wanted, at most [-].
_MOST_UPPER = 2.0
_LEAST_OHM = 0.1


@record(kw_only=True)
class Divider:
    """The parts of the divider by role [ohm]; `trimmer_ohm` is the trimmer's whole resistance, None without,
    `trackers` how many transistors as diodes stand in its lower arm.
    """

    values: Mapping[Key, float]
    trimmer_ohm: float | None
    trackers: int


def wanted_per_k(law: Law, row: PowerRow, idle_a: float) -> float:
    """How the bias has to move to keep the stage's idle current [A], V/K around room temperature.

    By the drift of threshold or base; less, for a square law, what its slope loses as it warms (T^−1.5):
    √(I/k) grows by three quarters of it over T.
    """
    if isinstance(law.device, Bipolar):
        return row.control_per_k
    beyond = law.control_v(idle_a) - law.common_ohm * idle_a - law.device.threshold_v
    return row.control_per_k - _MOBILITY / 2 * beyond / _ROOM_K


def trackers_for(stage: BuiltPowerAmplifier, law: Law, row: PowerRow, idle_a: float) -> int:
    """How many transistors as diodes in the lower arm follow the device best, without any less than half a
    volt being left to the resistor.
    """
    if stage.tracking != "diode":
        return 0
    if isinstance(law.device, Bipolar):
        return 1
    control_v, wanted = law.control_v(idle_a), wanted_per_k(law, row, idle_a)
    upper = stage.regulator_v - control_v

    def left_v(count: int) -> float:
        return control_v - count * THERMAL_V * log(_GATE_A / JUNCTION_A)

    def missed(count: int) -> float:
        share = upper / (upper + left_v(count))
        return abs(wanted - count * JUNCTION_PER_K * share)

    possible = [count for count in range(1, _MOST_TRACKERS + 1) if left_v(count) > 0.5]
    return min(possible, key=missed) if possible else 0


def divided(
    stage: BuiltPowerAmplifier,
    law: Law,
    row: PowerRow,
    idle_a: float,
    mean_a: float,
    circuit_of: Callable[[Mapping[Key, float]], Circuit],
) -> Divider | Unsolved:
    """A divider for an idle current of each transistor [A], the stage taking `mean_a` [A] at full power.

    Its resistors are preferred values; the trimmer is set so that the whole circuit comes to the current.
    Without one the pair of values is taken whose current is nearest. `circuit_of` gives the circuit with
    these values.
    """
    asked_v = law.control_v(idle_a * law.count)
    if asked_v >= 0.97 * stage.regulator_v:
        return Unsolved(
            f"This transistor wants {format_value(asked_v, 'V', 3)} of bias for "
            f"{format_value(idle_a, 'A', 3)}, and a regulator of {stage.regulator_v:.3g} V leaves no "
            "room for a divider; take one of more volts."
        )
    low = _Lower(stage, law, row, idle_a * law.count, mean_a)
    if isinstance(low.problem, Unsolved):
        return low.problem
    wanted_v, best = asked_v, _near(stage, low, asked_v)
    for _ in range(_ROUNDS):
        rest = bias(circuit_of(best.values))
        if isinstance(rest, Unsolved):
            return rest
        got = idle_of(rest)
        if got <= 0 or abs(got / idle_a - 1) < 1e-3 or stage.bias_from == "divider":
            break
        wanted_v += law.control_v(idle_a * law.count) - law.control_v(got * law.count)
        best = _set(stage, low, best, wanted_v)
    if stage.bias_from == "divider":
        return _of_two(stage, low, asked_v, idle_a, circuit_of)
    return best


def idle_of(rest: Bias) -> float:
    """The current of the first power transistor at rest [A]."""
    return abs(rest.transistors["Q1"].output_a)


class _Lower:
    """The lower arm: what flows there at a voltage, and its parts."""

    def __init__(
        self, stage: BuiltPowerAmplifier, law: Law, row: PowerRow, idle_a: float, mean_a: float
    ) -> None:
        control_v = law.control_v(idle_a)
        self.problem: Unsolved | None = None
        self.bipolar = isinstance(law.device, Bipolar)
        self.base_a = 0.0
        through = _GATE_A
        if isinstance(law.device, Bipolar):
            self.base_a = mean_a / law.device.current_gain
            through = max(_BASE_A, _STIFF * self.base_a)
        self.trackers = trackers_for(stage, law, row, idle_a)
        self.parts: dict[Key, float] = {}
        series = stage.resistors
        if stage.tracking == "thermistor":
            fall = control_v * (1 - control_v / stage.regulator_v) * THERMISTOR_K / _ROOM_K**2
            share = min(max(-wanted_per_k(law, row, idle_a) / fall, _LEAST_SHARE), 0.9)
            hot = min(_THERMISTORS_OHM, key=lambda ohm: abs(log(control_v / (ohm * share) / through)))
            self.parts["thermistor", None] = hot
            self.parts["bias_lower", None] = nearest(hot * share / (1 - share), series)
            return
        if self.bipolar and self.trackers:
            # No more than leaves the resistor a tenth of a volt; the arm is stiff enough where it can be.
            left = control_v - THERMAL_V * log(through / JUNCTION_A)
            if left < 1e-3:
                self.problem = Unsolved(
                    "A diode at the sink takes all the voltage that this base wants; ask for more idle "
                    "current, put a resistor into the emitter, or take no diode."
                )
                return
        left = control_v - self.trackers * THERMAL_V * log(through / JUNCTION_A)
        self.parts["bias_lower", None] = nearest(max(left / through, _LEAST_OHM), series)

    def current_a(self, volt: float) -> float:
        """What flows through the lower arm [A] at a voltage, base currents of the idle stage apart."""
        ohm = self.parts["bias_lower", None]
        if ("thermistor", None) in self.parts:
            return volt / ohm + volt / self.parts["thermistor", None]
        if not self.trackers:
            return volt / ohm
        low, high = 1e-12, volt / ohm
        for _ in range(60):
            middle = (low * high) ** 0.5
            drop = middle * ohm + self.trackers * THERMAL_V * log(middle / JUNCTION_A)
            low, high = (middle, high) if drop < volt else (low, middle)
        return low


def _upper_ohm(stage: BuiltPowerAmplifier, low: _Lower, volt: float) -> float:
    return (stage.regulator_v - volt) / low.current_a(volt)


def _near(stage: BuiltPowerAmplifier, low: _Lower, volt: float) -> Divider:
    """Resistors and trimmer for a voltage, the trimmer's range around it."""
    above, below = _BASE_RANGE_V if low.bipolar else _GATE_RANGE_V
    top = min(volt + above, 0.9 * stage.regulator_v + 0.1 * volt)
    least = _upper_ohm(stage, low, top)
    if stage.bias_from == "divider":
        values = {**low.parts, ("bias_upper", None): nearest(_upper_ohm(stage, low, volt), stage.resistors)}
        return Divider(values=values, trimmer_ohm=None, trackers=low.trackers)
    fixed = nearest(least, stage.resistors)
    # Below a diode's voltage hardly anything flows, whatever the resistance.
    most = min(
        _upper_ohm(stage, low, max(volt - below, 0.2 * volt)), _MOST_UPPER * _upper_ohm(stage, low, volt)
    )
    whole = _trimmer(most - fixed)
    values = {**low.parts, ("bias_upper", None): fixed}
    return _set(stage, low, Divider(values=values, trimmer_ohm=whole, trackers=low.trackers), volt)


def _set(stage: BuiltPowerAmplifier, low: _Lower, known: Divider, volt: float) -> Divider:
    """The divider with its trimmer set for a voltage."""
    assert known.trimmer_ohm is not None
    setting = _upper_ohm(stage, low, volt) - known.values["bias_upper", None]
    setting = min(max(setting, _LEAST_OHM), known.trimmer_ohm)
    values = {**known.values, ("bias_trimmer", None): setting}
    return Divider(values=values, trimmer_ohm=known.trimmer_ohm, trackers=known.trackers)


def _of_two(
    stage: BuiltPowerAmplifier,
    low: _Lower,
    volt: float,
    idle_a: float,
    circuit_of: Callable[[Mapping[Key, float]], Circuit],
) -> Divider | Unsolved:
    """The pair of preferred values whose idle current is nearest to the one asked: a gate's current changes
    by a third for a tenth of a volt, so the lower resistor is tried over an octave, the upper to suit.
    """
    start = low.parts["bias_lower", None]
    row = VALUES[stage.resistors]
    octave = [start * each / row[0] for each in row if each <= 2 * row[0]]
    if ("thermistor", None) in low.parts:
        # How it follows the heat hangs on their ratio.
        octave = [start]
    best: tuple[float, Divider] | None = None
    for ohm in dict.fromkeys(nearest(each, stage.resistors) for each in octave):
        low.parts["bias_lower", None] = ohm
        for upper in neighbours(_upper_ohm(stage, low, volt), stage.resistors):
            values = {**low.parts, ("bias_upper", None): upper}
            rest = bias(circuit_of(values))
            if isinstance(rest, Unsolved):
                return rest
            missed = abs(log(max(idle_of(rest), 1e-9) / idle_a))
            if best is None or missed < best[0]:
                best = (missed, Divider(values=values, trimmer_ohm=None, trackers=low.trackers))
    assert best is not None
    return best[1]


def nearest(value: float, series: str) -> float:
    """The preferred value nearest by ratio."""
    below, above = neighbours(value, series)
    return below if value / below <= above / value else above


def _trimmer(ohm: float) -> float:
    """The least trimmer that has about so much, a fifth less at most."""
    decade = 10.0 ** min(max(int(log(max(ohm, 1.0)) / log(10)), 0), 6)
    row = [times * decade * each for times in (0.1, 1, 10) for each in _TRIMMERS]
    return next((each for each in row if each >= 0.8 * ohm and each >= 10), row[-1])


def follows_v_per_k(
    stage: BuiltPowerAmplifier, values: Mapping[Key, float], trackers: int, volt: float
) -> float:
    """How the bias moves with the temperature of what is on the sink [V/K], around room temperature.

    A junction's −2 mV/K, or a thermistor's −B/T², through the divider with these values [ohm] at `volt` [V].
    """
    upper = values["bias_upper", None] + values.get(("bias_trimmer", None), 0.0)
    lower = values["bias_lower", None]
    if trackers:
        inner = trackers * THERMAL_V * (lower + upper) / max(stage.regulator_v - volt, 1e-6) / 1e9
        return trackers * JUNCTION_PER_K * upper / (upper + lower + inner)
    hot = values.get(("thermistor", None))
    if hot is None:
        return 0.0
    both = lower * hot / (lower + hot)
    return -volt * (1 - volt / stage.regulator_v) * both / hot * THERMISTOR_K / _ROOM_K**2


def idle_at(
    law: Law, row: PowerRow, bias_v: float, follows_per_k: float, junction_c: float, sink_c: float
) -> float:
    """Idle current of the stage [A] with junctions and what follows the heat at these temperatures [°C].

    The device's threshold, or its base's voltage, falls by `control_per_k`, a square law's slope with
    temperature; the bias moves with the sink.
    """
    moved = follows_per_k * (sink_c - ROOM_C) - row.control_per_k * (junction_c - ROOM_C)
    found = float(law.current_a(bias_v + moved))
    if isinstance(law.device, Bipolar):
        return found
    return found * exp(_MOBILITY * log((junction_c + 273.15) / _ROOM_K))
