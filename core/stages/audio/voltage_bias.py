"""A voltage amplifier at rest: its resistors, from voltages that a stage of its kind is given by custom."""

from math import sqrt

from core.circuits.circuit import THERMAL_V, Bipolar, SquareLaw
from core.model.stages.audio import BuiltAudio
from core.model.values.notation import format_value
from core.stages.audio.design import inverse, outside_supply
from core.stages.outcome import Unsolved
from core.stages.parts import Key
from core.trade.audio import ChipRow
from core.trade.devices import Row

#: Emitter's voltage over the supply and its bounds [V]; of the rest what falls across the load resistor;
#: the pair's first collector over the supply; all common practice, no source.
_EMITTER_SHARE, _EMITTER_V, _LOAD_SHARE, _PAIR_SHARE = 0.12, (0.6, 2.0), 0.5, 0.4
_BASE_V = 0.66
#: The divider's current over the base's, least and most [-]; the pair's second current over the first's [-];
#: its resistor of feedback [ohm]: common practice, no source.
_DIVIDER, _SECOND, _PAIR_FEEDBACK = (6.0, 60.0), 1.25, 100e3
#: Of an operational amplifier: resistors of the half supply, from its minus input to ground, of feedback at
#: least and at most, and in series with the output [ohm].
_HALF_OHM, _GAIN_OHM, _FEEDBACK_OHM, _OUTPUT_OHM = 47e3, 680.0, (4.7e3, 100e3), 47.0
#: Across the half supply [F].
_HALF_F = 22e-6
#: Least resistor that is soldered in [ohm].
LEAST_OHM = 1.0


class Start:
    """The stage asked for, on which board it stands, and its resistors before anything is solved."""

    def __init__(self, stage: BuiltAudio, of: Row | ChipRow) -> None:
        self.stage, self.of = stage, of
        self.device = None if isinstance(of, ChipRow) else of.model
        jfet = isinstance(self.device, SquareLaw)
        self.board = "single_jfet" if stage.topology == "single" and jfet else stage.topology
        self.second_a = stage.current_a * _SECOND if stage.second_a is None else stage.second_a

    def problem(self) -> str | None:
        """Why nothing can be made of what is asked, as far as that is known at once."""
        stage = self.stage
        if isinstance(self.of, ChipRow):
            return outside_supply(self.of, stage.supply_v)
        if self.of.kind == "mosfet" or (stage.topology == "pair" and self.of.kind != "bipolar"):
            wanted = "a bipolar transistor" if stage.topology == "pair" else "a bipolar transistor or a JFET"
            return f"This circuit is for {wanted} and {self.of.name} is none; choose another."
        return None

    def bias(self, values: dict[Key, float]) -> Unsolved | None:
        """Add the resistors that set the state at rest to the values; a reason where none do."""
        return {
            "single": self._single,
            "single_jfet": self._jfet,
            "pair": self._pair,
            "operational": self._operational,
        }[self.board](values)

    @property
    def _left_v(self) -> float:
        """What the resistor in the supply leaves of it, V."""
        taken = self.stage.current_a + (self.second_a if self.board == "pair" else 0.0)
        return self.stage.supply_v - self.stage.feed_ohm * taken

    def _single(self, values: dict[Key, float]) -> Unsolved | None:
        stage, left_v = self.stage, self._left_v
        emitter_v = min(max(_EMITTER_SHARE * left_v, _EMITTER_V[0]), _EMITTER_V[1])
        if left_v - emitter_v < 1.5:
            return self._starved(left_v)
        values["load", None] = _LOAD_SHARE * (left_v - emitter_v) / stage.current_a
        values["emitter", 1] = emitter_v / stage.current_a
        values["degeneration", None] = max(values["load", None] / 10 ** (stage.gain_db / 20), LEAST_OHM)
        assert isinstance(self.device, Bipolar)
        base_a = stage.current_a / self.device.current_gain
        # The divider makes the input what is asked, as far as it still holds the base.
        own = self.device.current_gain * (THERMAL_V / stage.current_a + values["degeneration", None])
        wanted = inverse(1 / stage.input_ohm - 1 / own)
        base_v = emitter_v + _BASE_V
        through = base_v * (left_v - base_v) / (left_v * wanted) if wanted < float("inf") else 0.0
        through = min(max(through, _DIVIDER[0] * base_a), _DIVIDER[1] * base_a)
        values["bias_lower", None] = base_v / through
        values["bias_upper", None] = (left_v - base_v) / (through + base_a)
        return None

    def _jfet(self, values: dict[Key, float]) -> Unsolved | None:
        stage, left_v = self.stage, self._left_v
        assert isinstance(self.device, SquareLaw)
        most = self.device.slope_a_v2 * self.device.threshold_v**2
        if stage.current_a > 0.9 * most:
            return Unsolved(
                f"{self.of.name} has {format_value(most, 'A', 2)} at most; ask for a smaller current."
            )
        beyond_v = sqrt(stage.current_a / self.device.slope_a_v2)
        source_v = -self.device.threshold_v - beyond_v
        room_v = left_v - source_v - beyond_v
        if room_v < 1.5:
            return self._starved(left_v)
        values["load", None] = _LOAD_SHARE * room_v / stage.current_a
        values["bias_gate", None] = stage.input_ohm
        # All of it could be needed for a gain below one; what is not is bypassed.
        whole = source_v / stage.current_a
        values["degeneration", None] = whole / 10
        values["source", None] = whole - values["degeneration", None]
        return None

    def _pair(self, values: dict[Key, float]) -> Unsolved | None:
        stage, left_v = self.stage, self._left_v
        assert isinstance(self.device, Bipolar)
        first, second = stage.current_a, self.second_a
        collector_v = _PAIR_SHARE * left_v
        base_a = first / self.device.current_gain
        values["feedback", None] = min(_PAIR_FEEDBACK, 0.5 / base_a)
        values["load", None] = (left_v - collector_v) / (first + second / self.device.current_gain)
        values["degeneration", None] = max(values["load", None] / 10 ** (stage.gain_db / 20), LEAST_OHM)
        return self.second_of_pair(values)

    def second_of_pair(self, values: dict[Key, float]) -> Unsolved | None:
        """The second transistor's resistors, so that it feeds the first one's base."""
        collector_v = _PAIR_SHARE * self._left_v
        assert isinstance(self.device, Bipolar)
        first, second = self.stage.current_a, self.second_a
        base_a = first / self.device.current_gain
        low_v = _BASE_V + first * values["degeneration", None] + base_a * values["feedback", None]
        high_v = collector_v - _BASE_V
        if high_v - low_v < 0.2:
            return self._starved(self._left_v)
        values["emitter", 2] = low_v / (second - base_a)
        values["emitter", 1] = (high_v - low_v) / second
        return None

    def _operational(self, values: dict[Key, float]) -> Unsolved | None:
        stage = self.stage
        times = 10 ** (stage.gain_db / 20)
        if times < 1.05:
            return Unsolved("This circuit amplifies by 0.5 dB at least; ask for more gain.")
        values["bias_upper", None] = values["bias_lower", None] = _HALF_OHM
        values["bias_bypass", None] = _HALF_F
        values["bias_gate", None] = stage.input_ohm
        # As low as its output drives well, as the resistor at its input makes noise.
        values["feedback", None] = min(max(_GAIN_OHM * (times - 1), _FEEDBACK_OHM[0]), _FEEDBACK_OHM[1])
        values["gain_resistor", None] = values["feedback", None] / (times - 1)
        values["output_resistor", None] = _OUTPUT_OHM
        return None

    def _starved(self, left_v: float) -> Unsolved:
        return Unsolved(
            f"{left_v:.2g} V behind the resistor in the supply leave the transistor no room; give it more "
            "supply, a smaller resistor there or less current."
        )
