"""Values of an amplifier's parts: exact ones for gain, match and current, and preferred ones near them."""

from collections.abc import Mapping, Sequence
from itertools import product
from math import exp, log, sqrt
from types import MappingProxyType

import numpy as np

from core.circuits.active.operating import OperatingPoint
from core.circuits.active.two_port import TwoPort
from core.circuits.active.variants import Variants
from core.circuits.circuit import THERMAL_V, Bipolar, Circuit, SquareLaw
from core.model.stages.built_amplifier import BuiltAmplifier
from core.model.values.notation import format_value
from core.model.values.part_names import NAMES
from core.model.values.parts import Role
from core.stages.amplifiers.coils import CHOKE, CHOKE_H, Coils, winding_of
from core.stages.amplifiers.topologies import BOARDS, Key, soldered
from core.stages.outcome import Unsolved
from core.trade.devices import Row
from core.trade.series import neighbours

#: What is not solved for: coupling and bypass capacitors [F], chokes [H], a follower's gate resistor [ohm].
_FIXED: dict[Role, float] = {
    "coupling": 100e-9,
    "feedback_block": 100e-9,
    "bypass": 100e-9,
    "bias_gate": 100e3,
}
#: Voltage across the emitter resistor of a single stage as a share of the supply, and its bounds [V]; the
#: divider's current as a share of the collector's; base-emitter voltage [V]: common practice, no source.
_EMITTER_SHARE, _EMITTER_V, _DIVIDER_SHARE, _BASE_V = 0.2, (1.0, 2.5), 0.1, 0.73
#: Lower resistor of a gate's divider [ohm], into which no current flows; common practice, no source.
_GATE_OHM = 10e3
#: Three transistors: voltage across the collector resistor as a share of the supply, currents of the two
#: followers over the first one's: as in the circuits that are built; common practice, no source.
_COLLECTOR_SHARE, _FOLLOWERS = 0.25, {2: 0.65, 3: 1.85}
#: A decibel of gain missed counts as much as this many decibels of return loss below 20 dB.
_GAIN_WEIGHT, _ENOUGH_DB = 10.0, 20.0
_ROUNDS = 6
#: Gain [nepers] and resistances [logarithms] are met to this.
_MATCHED = 1e-3
#: Circuits whose gain and match are set by feedback, and so rounded together.
_FED_BACK = ("feedback", "feedback_transformer", "three_transistors", "common_source")


class Solver:
    """The stage asked for, with the windings that its core gives it, and what its values do."""

    def __init__(self, stage: BuiltAmplifier, of: Row, coils: Coils = MappingProxyType({})) -> None:
        self.stage = stage
        self.device = of.model
        self.winding = winding_of(stage, coils)
        #: What is not solved for.
        self._fixed = {**_FIXED, "choke": coils[CHOKE].inductance_h if CHOKE in coils else CHOKE_H}
        self._variants: Variants | None = None

    def circuit(self, values: Mapping[Key, float]) -> Circuit:
        """The circuit with these values."""
        stage = self.stage
        ends = (stage.system_ohm, stage.system_ohm, stage.supply_v)
        return soldered(stage.topology, values, self.device, ends, self.winding)

    def _tried(self, values: Mapping[Key, float]) -> tuple[Variants, list[float]]:
        if self._variants is None:
            self._variants = Variants(self.circuit(values))
        return self._variants, [values[part.role, part.which] for part in self._variants.parts]  # type: ignore[index]

    def at_rest(self, values: Mapping[Key, float]) -> Mapping[str, OperatingPoint] | Unsolved:
        """The transistors of the circuit with these values, by reference."""
        variants, given = self._tried(values)
        return variants.at_rest(given)

    def two_port(self, values: Mapping[Key, float]) -> TwoPort | Unsolved:
        """What the circuit with these values does where its gain is wanted, without its noise."""
        variants, given = self._tried(values)
        return variants.two_port(given, self.stage.designed_at_hz)

    def solved(self) -> dict[Key, float] | Unsolved:
        """Exact values."""
        values: dict[Key, float] = {
            (slot.role, slot.which): self._fixed[slot.role]
            for slot in BOARDS[self.stage.topology]
            if slot.role in self._fixed
        }
        if self.stage.topology == "common_source":
            found = self._gate_biased(values)
        elif isinstance(self.device, SquareLaw):
            return self._self_biased(values)
        else:
            found = self._biased(values)
        if isinstance(found, Unsolved) or self.stage.topology == "emitter_follower":
            return found
        return self.matched(found)

    def _self_biased(self, values: dict[Key, float]) -> dict[Key, float] | Unsolved:
        """A JFET's source resistor: Vgs that the current asks for over that current."""
        assert isinstance(self.device, SquareLaw)
        most = self.device.slope_a_v2 * self.device.threshold_v**2
        if self.stage.current_a >= 0.95 * most:
            return Unsolved(
                f"This transistor has {format_value(most, 'A', 3)} at most; ask for a smaller current or "
                "take another."
            )
        volt = -self.device.threshold_v * (1 - sqrt(self.stage.current_a / most))
        values["source", None] = volt / self.stage.current_a
        return self._trimmed(values, self._sets_current)

    def _gate_biased(self, values: dict[Key, float]) -> dict[Key, float] | Unsolved:
        """A MOSFET's gate divider, which takes the threshold, what the current wants beyond it, and what the
        source resistor drops.
        """
        assert isinstance(self.device, SquareLaw)
        supply, current = self.stage.supply_v, self.stage.current_a
        source_v = min(max(_EMITTER_SHARE * supply, _EMITTER_V[0]), _EMITTER_V[1])
        beyond_v = sqrt(current / self.device.slope_a_v2)
        guess = self._first_guess(values)
        low_v = source_v + current * guess["degeneration", None]
        gate_v = self.device.threshold_v + beyond_v + low_v
        if gate_v > 0.9 * supply or low_v + beyond_v > 0.7 * supply:
            return Unsolved(
                f"This transistor wants {format_value(gate_v, 'V', 2)} at its gate for "
                f"{format_value(current, 'A', 3)}, and "
                f"{format_value(supply, 'V', 3)} of supply leave it no room; give it more, or ask for a "
                "smaller current."
            )
        values["bias_lower", None] = _GATE_OHM
        values["bias_upper", None] = _GATE_OHM * (supply - gate_v) / gate_v
        values["source", None] = source_v / current
        values |= guess
        return self._trimmed(values, self._sets_current)

    @property
    def _sets_current(self) -> Key:
        """The resistor that the first transistor's current is trimmed with."""
        return ("source", None) if isinstance(self.device, SquareLaw) else ("emitter", 1)

    def _biased(self, values: dict[Key, float]) -> dict[Key, float] | Unsolved:
        stage, supply, current = self.stage, self.stage.supply_v, self.stage.current_a
        if stage.topology == "three_transistors":
            collector_v = supply * (1 - _COLLECTOR_SHARE)
            follower_v = collector_v - _BASE_V
            emitter_v = follower_v / 2 - _BASE_V
            if emitter_v < 0.5:
                return Unsolved(
                    f"{format_value(supply, 'V', 3)} are too little for three transistors; give them 6 V "
                    "or more."
                )
            values["collector", None] = (supply - collector_v) / (
                current * (1 + sum(_FOLLOWERS.values()) / 100)
            )
            for which, share in _FOLLOWERS.items():
                values["emitter", which] = follower_v / (share * current)
            divider = (4.7e3, 4.7e3)
            values["output_resistor", None] = 0.85 * stage.system_ohm
        else:
            half = stage.topology == "emitter_follower"
            emitter_v = (
                supply / 2 - _BASE_V
                if half
                else min(max(_EMITTER_SHARE * supply, _EMITTER_V[0]), _EMITTER_V[1])
            )
            base_v, through = emitter_v + _BASE_V, _DIVIDER_SHARE * current
            assert isinstance(self.device, Bipolar)
            divider = ((supply - base_v) / (through + current / self.device.current_gain), base_v / through)
        values["bias_upper", None], values["bias_lower", None] = divider
        values["emitter", 1] = emitter_v / current
        if stage.topology != "emitter_follower":
            values |= self._first_guess(values)
        return self._trimmed(values, self._sets_current)

    def _trimmed(self, values: dict[Key, float], place: Key) -> dict[Key, float] | Unsolved:
        """The resistor that sets the current, so that it is the one asked."""
        power, step, before = 0.9, 0.0, 0.0
        for _ in range(_ROUNDS):
            rest = self.at_rest(values)
            if isinstance(rest, Unsolved):
                return rest
            off = log(max(abs(rest["Q1"].output_a) / self.stage.current_a, 1e-6))
            if abs(off) < 1e-4:
                break
            if step and off != before:
                # As the last change of the resistor changed the current, so will the next one.
                power = min(max(step / (before - off), 0.5), 2.0)
            step, before = min(max(power * off, -1.6), 1.6), off
            values[place] *= exp(step)
        return values

    def _first_guess(self, values: dict[Key, float]) -> dict[Key, float]:
        """Degeneration and feedback of an ideal transistor: RF Re = R0 RL, gain RF/R0 − 1 between matches."""
        ohm, voltage_gain = self.stage.system_ohm, 10 ** (self.stage.gain_db / 20)
        load = ohm * (self.winding.ratio**2 if self.winding else 1)
        whole = sqrt(load * ohm) / (voltage_gain + 1)
        least = 0.2
        own = THERMAL_V / self.stage.current_a
        if isinstance(self.device, SquareLaw):
            own = 0.5 / sqrt(self.device.slope_a_v2 * self.stage.current_a)
        guess: dict[Key, float] = {
            ("feedback", None): sqrt(load * ohm) * (voltage_gain + 1),
            ("degeneration", None): max(whole - own, least),
        }
        if self.stage.topology == "three_transistors":
            collector = values["collector", None]
            guess["feedback", None] = ohm * (voltage_gain * 2 + 1)
            guess["degeneration", None] = max(collector / (2 * voltage_gain + 1) - own, least)
        return guess

    def _unknown(self) -> tuple[Key, ...]:
        plain: tuple[Key, ...] = (("degeneration", None), ("feedback", None))
        return (*plain, ("output_resistor", None)) if self.stage.topology == "three_transistors" else plain

    def _missed(self, values: Mapping[Key, float]) -> np.ndarray | Unsolved:
        """How far gain [nepers] and the ports' resistances [logarithms] are off."""
        found, ohm = self.two_port(values), self.stage.system_ohm
        if isinstance(found, Unsolved):
            return found
        into, out = abs(found.input_ohm(ohm)[0]), abs(found.output_ohm(ohm)[0])
        gain = (found.gain_db(ohm, ohm)[0] - self.stage.gain_db) * log(10) / 20
        if len(self._unknown()) == 3:
            return np.array([gain, log(into / ohm), log(out / ohm)])
        return np.array([gain, log(into * out / ohm**2)])

    def _slopes(
        self, values: Mapping[Key, float], unknown: Sequence[Key], missed: np.ndarray
    ) -> np.ndarray | Unsolved:
        """What is missed over the logarithm of each unknown value, a column each."""
        columns = []
        for place in unknown:
            beside = self._missed({**values, place: values[place] * 1.02})
            if isinstance(beside, Unsolved):
                return beside
            columns.append((beside - missed) / log(1.02))
        return np.array(columns).T

    def matched(self, values: dict[Key, float]) -> dict[Key, float] | Unsolved:
        """Degeneration, feedback and output resistor from these values on, for the gain and match asked."""
        unknown = self._unknown()
        found = self._missed(values)
        slopes: np.ndarray | Unsolved | None = None
        for _ in range(2 * _ROUNDS):
            if isinstance(found, Unsolved):
                return found
            if np.abs(found).max() < _MATCHED:
                break
            if slopes is None:
                slopes = self._slopes(values, unknown, found)
            if isinstance(slopes, Unsolved):
                return slopes
            step = np.clip(np.linalg.lstsq(slopes, -found, rcond=None)[0], -0.7, 0.7)
            for place, change in zip(unknown, step, strict=True):
                values[place] = min(max(values[place] * exp(change), 0.1), 1e6)
            missed, found = found, self._missed(values)
            if isinstance(found, Unsolved):
                return found
            # Slopes that led well are made to agree with the step (C. G. Broyden, Math. Comp. 19 (1965) 577,
            # from memory); others are taken anew.
            led = np.abs(found).max() < 0.3 * np.abs(missed).max() and step.any()
            slopes = slopes + np.outer(found - missed - slopes @ step, step) / (step @ step) if led else None
        if isinstance(found, Unsolved):
            return found
        if abs(found[0]) > 0.06:
            comes_to = self.stage.gain_db + float(found[0]) * 20 / log(10)
            return Unsolved(
                f"{format_value(self.stage.gain_db, 'dB', 3)} cannot be had of this circuit at this current: "
                f"it comes to {format_value(comes_to, 'dB', 3)}, and that without its match; ask for clearly "
                "less or give it more current.",
                "gain_db",
            )
        return self._trimmed(values, self._sets_current)

    def rounded(self, designed: Mapping[Key, float]) -> dict[Key, float] | Unsolved:
        """Preferred values: those of bias the nearest, those of gain and match tried together."""
        series = self.stage.resistors
        unknown = self._unknown() if self.stage.topology in _FED_BACK else ()
        values = {}
        for place, value in designed.items():
            is_resistor = NAMES["amplifier"][place[0]].kind == "resistor"
            values[place] = _nearest(value, series) if is_resistor and place[0] not in _FIXED else value
        if not unknown:
            return values
        if self.stage.topology == "common_source":
            # A gate's voltage is mostly threshold, so what the divider's preferred values miss of it falls on
            # the source resistor: that one is taken after them, to the current asked.
            place = self._sets_current
            exact = {key: designed[key] for key in (place, *unknown)}
            trimmed = self._trimmed({**values, **exact}, place)
            if isinstance(trimmed, Unsolved):
                return trimmed
            values[place] = _nearest(trimmed[place], series)
        choices = [sorted(set(neighbours(designed[place], series))) for place in unknown]
        best: tuple[float, dict[Key, float]] | None = None
        for combination in product(*choices):
            tried = {**values, **dict(zip(unknown, combination, strict=True))}
            found = self.two_port(tried)
            if isinstance(found, Unsolved):
                return found
            worth = self.worth(found)
            if best is None or worth < best[0]:
                best = (worth, tried)
        assert best is not None
        return best[1]

    def worth(self, found: TwoPort) -> float:
        """How far a stage is from what was asked: gain missed, and return loss missing at either port."""
        ohm = self.stage.system_ohm
        s = found.s(ohm)[..., 0]
        missing = [max(_ENOUGH_DB + 20 * np.log10(abs(s[n, n])), 0.0) for n in (0, 1)]
        gain = 20 * np.log10(abs(s[1, 0]))
        return float(_GAIN_WEIGHT * abs(gain - self.stage.gain_db) + sum(missing))


def _nearest(value: float, series: str) -> float:
    below, above = neighbours(value, series)
    return below if value / below <= above / value else above
