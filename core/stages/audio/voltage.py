"""A voltage amplifier's parts for the gain, input and corners that are asked.

Bias first, from the voltages that a stage of its kind is given by custom; capacitors from the resistances
beside them; then the one resistor that sets the gain, and the capacitor that ends it, on the whole circuit.
Every part then takes a preferred value, and the gain's resistor the one that misses least with all others.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from math import exp, log, pi, sqrt

from core.circuits.active.linear import around
from core.circuits.active.operating import Bias, bias, bias_near
from core.circuits.active.two_port import TwoPort, alike
from core.circuits.bias import THERMAL_V
from core.circuits.circuit import Bipolar, Circuit, SquareLaw
from core.model.stages.audio import BuiltAudio
from core.model.transistors import OwnTransistor
from core.model.values.notation import format_value
from core.model.values.parts import NAMES, TYPED
from core.stages.audio.boards import soldered
from core.stages.audio.design import (
    CLIPS_HARD_DB,
    CLIPS_SOFTLY_DB,
    TONE_HZ,
    Asked,
    AudioDesign,
    at_rest,
    inverse,
    nearest_gain,
    next_up,
    outside_supply,
    rows,
    voltage_gain_db,
)
from core.stages.gate import gate
from core.stages.nameless import nameless
from core.stages.outcome import Unsolved
from core.stages.parts import Key
from core.stages.transistors import transistor
from core.trade.audio import ChipRow, audio_chips
from core.trade.devices import Row
from core.trade.series import preferred

#: Emitter's voltage over the supply and its bounds [V]; of the rest what falls across the load resistor;
#: the pair's first collector over the supply; all common practice, no source.
_EMITTER_SHARE, _EMITTER_V, _LOAD_SHARE, _PAIR_SHARE = 0.12, (0.6, 2.0), 0.5, 0.4
_BASE_V = 0.66
#: The divider's current over the base's, least and most [-]; the pair's second current over the first's [-];
#: its resistor of feedback [ohm]: common practice, no source.
_DIVIDER, _SECOND, _PAIR_FEEDBACK = (6.0, 60.0), 1.25, 100e3
#: How far above the pair's input resistance that of what comes back is kept [-].
_BACK = 3.0
#: Of an operational amplifier: resistors of the half supply, from its minus input to ground, of feedback at
#: least and at most, and in series with the output [ohm].
_HALF_OHM, _GAIN_OHM, _FEEDBACK_OHM, _OUTPUT_OHM = 47e3, 680.0, (4.7e3, 100e3), 47.0
#: Behind the resistor in the supply, across the half supply [F].
_FEED_F, _HALF_F = 100e-6, 22e-6
#: Least capacitor and resistor that is soldered in [F, ohm].
_LEAST_F, _LEAST_OHM = 10e-12, 1.0
_ROUNDS = 8
#: More than this at the lowest frequency asked is beyond its corner, dB.
_CORNER_DB = 3.05


def design(stage: BuiltAudio, own: Sequence[OwnTransistor] = ()) -> AudioDesign | Unsolved:
    """The stage's parts, on preferred values and as built, and its state at rest; `own` are the builder's
    own transistors.
    """
    if stage.topology == "operational":
        return _design(nameless(stage), audio_chips()[stage.chip])
    of = transistor(stage.device, own)
    return of if isinstance(of, Unsolved) else _design(nameless(stage), of)


@lru_cache(maxsize=64)
@gate("The audio amplifier")
def _design(stage: BuiltAudio, of: Row | ChipRow) -> AudioDesign | Unsolved:
    solver = Solver(stage, of)
    problem = solver.problem()
    if problem is not None:
        return Unsolved(problem)
    exact = solver.solved()
    if isinstance(exact, Unsolved):
        return exact
    rounded = solver.rounded(exact)
    if isinstance(rounded, Unsolved):
        return rounded
    parts = rows("audio", solver.board, stage.as_built, (exact, rounded), of.name)
    circuit = solver.circuit({(row.role, row.which): row.fitted for row in parts if row.kind not in TYPED})  # type: ignore[misc]
    return at_rest(
        circuit,
        board=solver.board,
        of=of,
        parts=parts,
        asked=Asked(
            gain_db=stage.gain_db, input_ohm=stage.input_ohm, low_hz=stage.low_hz, high_hz=stage.high_hz
        ),
        beyond_db=CLIPS_HARD_DB if stage.topology == "operational" else CLIPS_SOFTLY_DB,
    )


class Solver:
    """The stage asked for, and what its values do."""

    def __init__(self, stage: BuiltAudio, of: Row | ChipRow) -> None:
        self.stage, self.of = stage, of
        self.chip = of.device if isinstance(of, ChipRow) else None
        self.device = None if isinstance(of, ChipRow) else of.model
        jfet = isinstance(self.device, SquareLaw)
        self.board = "single_jfet" if stage.topology == "single" and jfet else stage.topology
        self.second_a = stage.current_a * _SECOND if stage.second_a is None else stage.second_a
        self._rest: Bias | None = None

    def problem(self) -> str | None:
        """Why nothing can be made of what is asked, as far as that is known at once."""
        stage = self.stage
        if isinstance(self.of, ChipRow):
            return outside_supply(self.of, stage.supply_v)
        if self.of.kind == "mosfet" or (stage.topology == "pair" and self.of.kind != "bipolar"):
            wanted = "a bipolar transistor" if stage.topology == "pair" else "a bipolar transistor or a JFET"
            return f"This circuit is for {wanted} and {self.of.name} is none; choose another."
        return None

    def circuit(self, values: Mapping[Key, float]) -> Circuit:
        """The circuit with these values."""
        stage = self.stage
        ends = (stage.source_ohm, stage.load_ohm, stage.supply_v)
        return soldered(self.board, values, ends, self.device, self.chip)

    def two_port(self, values: Mapping[Key, float], f_hz: float = TONE_HZ) -> TwoPort | Unsolved:
        """What the circuit with these values does at a frequency [Hz], its bias found from the last one."""
        circuit = self.circuit(values)
        rest = bias(circuit) if self._rest is None else bias_near(circuit, self._rest)
        if isinstance(rest, Unsolved):
            return rest
        self._rest = rest
        made = around(circuit, rest)
        return made if isinstance(made, Unsolved) else alike([made], f_hz)

    def gain_db(self, values: Mapping[Key, float], f_hz: float = TONE_HZ) -> float | Unsolved:
        """Voltage gain into the load at a frequency [Hz], dB."""
        port = self.two_port(values, f_hz)
        if isinstance(port, Unsolved):
            return port
        return float(voltage_gain_db(port, self.stage.load_ohm)[0])

    def _whole_db(self, values: Mapping[Key, float], f_hz: float = TONE_HZ) -> float | Unsolved:
        """Gain from the source's open voltage on at a frequency [Hz], dB."""
        port = self.two_port(values, f_hz)
        if isinstance(port, Unsolved):
            return port
        return float(port.gain_db(self.stage.source_ohm, self.stage.load_ohm)[0])

    # -- exact values -------------------------------------------------------------------------------------

    def solved(self) -> dict[Key, float] | Unsolved:
        """Exact values of every part."""
        stage = self.stage
        values: dict[Key, float] = {("feed", None): stage.feed_ohm, ("feed_bypass", None): _FEED_F}
        if stage.electret_ohm is not None:
            values["electret", None] = stage.electret_ohm
        biased = {
            "single": self._single,
            "single_jfet": self._jfet,
            "pair": self._pair,
            "operational": self._operational,
        }[self.board](values)
        if biased is not None:
            return biased
        self._coupled(values)
        trouble = self._set_gain(values)
        if trouble is not None:
            return trouble
        self._loaded(values)
        self._coupled(values)
        self._cornered(values)
        found = self._cut(values)
        if isinstance(found, Unsolved):
            return found
        # A low highest frequency takes some of the tone too.
        trouble = self._set_gain(found)
        if trouble is not None:
            return trouble
        self._cornered(found)
        return found

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
        values["degeneration", None] = max(values["load", None] / 10 ** (stage.gain_db / 20), _LEAST_OHM)
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
        values["degeneration", None] = max(values["load", None] / 10 ** (stage.gain_db / 20), _LEAST_OHM)
        return self._pair_biased(values, collector_v)

    def _pair_biased(self, values: dict[Key, float], collector_v: float) -> Unsolved | None:
        """The second transistor's resistors, so that it feeds the first one's base."""
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

    @property
    def _sets_gain(self) -> Key:
        return ("gain_resistor" if self.board == "operational" else "degeneration"), None

    def _set_gain(self, values: dict[Key, float]) -> Unsolved | None:
        """The one resistor, by the secant's method on its logarithm."""
        place, wanted = self._sets_gain, self.stage.gain_db
        got = self.gain_db(values)
        for _ in range(_ROUNDS):
            if isinstance(got, Unsolved):
                return got
            if abs(got - wanted) < 0.01:
                return None
            before, value = got, values[place]
            beside = self.gain_db({**values, place: value * 1.02})
            if isinstance(beside, Unsolved):
                return beside
            slope = (beside - got) / log(1.02)
            step = (wanted - got) / slope if slope < -0.05 else (-0.7 if wanted > got else 0.7)
            least = _LEAST_OHM if self.board != "operational" else 10.0
            values[place] = min(max(value * exp(min(max(step, -1.2), 1.2)), least), 1e6)
            if self.board == "pair":
                starved = self._pair_biased(values, _PAIR_SHARE * self._left_v)
                if starved is not None:
                    return starved
            got = self.gain_db(values)
            if not isinstance(got, Unsolved) and values[place] == value and before == got:
                break
        if isinstance(got, float) and abs(got - wanted) < 0.3:
            return None
        comes_to = got if isinstance(got, float) else 0.0
        return Unsolved(
            f"{format_value(wanted, 'dB', 3)} cannot be had of this circuit between these ends: it comes to "
            f"{format_value(comes_to, 'dB', 3)}; ask for "
            + ("less, or for more supply." if comes_to < wanted else "more, or less current.")
        )

    def _loaded(self, values: dict[Key, float]) -> None:
        """A resistor across the input where less is asked than the stage shows by itself."""
        if ("electret", None) in values or self.board not in ("pair", "single"):
            return
        port = self.two_port(values)
        if isinstance(port, Unsolved):
            return
        own = 1 / float((1 / port.input_ohm(self.stage.load_ohm)[0]).real)
        if self.stage.input_ohm < 0.9 * own:
            values["input_load", None] = inverse(1 / self.stage.input_ohm - 1 / own)

    def _coupled(self, values: dict[Key, float]) -> None:
        """Capacitors for the lowest frequency, each with the resistance that it stands between.

        Several alike corners make one together: each lies at the corner asked times √(2^(1/n) − 1).
        """
        stage = self.stage
        port = self.two_port({**values, **dict.fromkeys(self._coupling, 0.01)})
        if isinstance(port, Unsolved):
            return
        into = float(abs(port.input_ohm(stage.load_ohm)[0]))
        out = float(abs(port.output_ohm(stage.source_ohm)[0]))
        each_hz = stage.low_hz * sqrt(2 ** (1 / len(self._cornering)) - 1)
        beside: dict[Key, float] = {
            ("coupling", 1): stage.source_ohm + into,
            ("coupling", 2): out + stage.load_ohm,
        }
        if self.board == "operational":
            beside["gain_block", None] = values["gain_resistor", None]
        else:
            beside["bypass", None] = self._bypassed(values)
        for place, ohm in beside.items():
            values[place] = 1 / (2 * pi * each_hz * ohm)
        if self.board == "pair":
            # What the bypass leaves of the second transistor's signal comes back to the base, and would lower
            # the input's resistance: so little that it stays above some times what the stage has.
            back = 10 ** (stage.gain_db / 20) * _BACK * into / values["feedback", None]
            quiet = back / values["emitter", 1] / (2 * pi * stage.low_hz)
            values["bypass", None] = max(values["bypass", None], quiet)

    def _cornered(self, values: dict[Key, float]) -> None:
        """All capacitors of low corners by one factor, so that together they make the corner asked."""
        stage, many = self.stage, 10 * len(self._cornering)
        for _ in range(_ROUNDS):
            flat, here = self._whole_db(values), self._whole_db(values, stage.low_hz)
            if isinstance(flat, Unsolved) or isinstance(here, Unsolved):
                return
            lost = 10 ** (max(flat - here, 0.05) / many) - 1
            factor = sqrt(lost / (2 ** (10 / many) - 1))
            for place in self._cornering:
                values[place] *= min(max(factor, 0.3), 3.0)
            if abs(factor - 1) < 0.01:
                return

    @property
    def _cornering(self) -> tuple[Key, ...]:
        """Capacitors that the low corner is made by; the pair's bypass has another task."""
        return self._coupling[:2] if self.board == "pair" else self._coupling

    @property
    def _coupling(self) -> tuple[Key, ...]:
        third: Key = ("gain_block", None) if self.board == "operational" else ("bypass", None)
        return ("coupling", 1), ("coupling", 2), third

    def _bypassed(self, values: Mapping[Key, float]) -> float:
        """The resistance across which the bypass capacitor works, ohm."""
        stage = self.stage
        own = THERMAL_V / (self.second_a if self.board == "pair" else stage.current_a)
        if isinstance(self.device, SquareLaw):
            own = 0.5 / sqrt(self.device.slope_a_v2 * stage.current_a)
            return inverse(1 / (own + values["degeneration", None]) + 1 / values["source", None])
        if self.board == "pair":
            # From the feedback's resistor and the follower to ground.
            follower = values["emitter", 1] + own
            return inverse(1 / follower + 1 / values["emitter", 2])
        assert isinstance(self.device, Bipolar)
        source = inverse(
            1 / stage.source_ohm + 1 / values["bias_lower", None] + 1 / values["bias_upper", None]
        )
        seen = own + values["degeneration", None] + source / self.device.current_gain
        return inverse(1 / seen + 1 / values["emitter", 1])

    def _cut(self, values: dict[Key, float]) -> dict[Key, float] | Unsolved:
        """The capacitor that ends the gain at the highest frequency; none where it ends there by itself."""
        stage = self.stage
        place: Key = ("high_cut", None)
        ohm = values["feedback", None] if self.board == "operational" else values["load", None]
        farad = 1 / (2 * pi * stage.high_hz * ohm)
        for _ in range(_ROUNDS):
            cut = {**values, place: farad}
            tone_db, got = self._whole_db(cut), self._whole_db(cut, stage.high_hz)
            if isinstance(tone_db, Unsolved):
                return tone_db
            if isinstance(got, Unsolved):
                return got
            # One pole: the drop from the tone on tells how far its corner is off.
            drop = 10 ** ((tone_db - got) / 10) - 1
            if drop <= 0:
                return values
            if abs(drop - 1) < 0.01:
                break
            farad *= min(max(1 / sqrt(drop), 0.2), 5.0)
            if farad < _LEAST_F:
                return values
        values[place] = farad
        return values

    # -- preferred values ---------------------------------------------------------------------------------

    def rounded(self, exact: Mapping[Key, float]) -> dict[Key, float] | Unsolved:
        """Preferred values: resistors the nearest, capacitors of low corners the next larger; then that of
        the high one and the resistor of the gain anew.
        """
        stage = self.stage
        values: dict[Key, float] = {}
        for place, value in exact.items():
            kind = NAMES["audio"][place[0]].kind
            if kind == "resistor":
                values[place] = preferred(value, stage.resistors)
            elif place[0] != "high_cut":
                values[place] = next_up(value, "E6")
        cut = self._cut(values) if ("high_cut", None) in exact else values
        if isinstance(cut, Unsolved):
            return cut
        if ("high_cut", None) in cut:
            values = {**cut, ("high_cut", None): preferred(cut["high_cut", None], "E12")}
        made = nearest_gain(values, self._sets_gain, exact, stage.resistors, stage.gain_db, self.gain_db)
        if isinstance(made, Unsolved):
            return made
        flat, here = self._whole_db(made), self._whole_db(made, stage.low_hz)
        if isinstance(flat, float) and isinstance(here, float) and flat - here > _CORNER_DB:
            # What the others' rounding does to the tone moved the corner.
            made["coupling", 2] = next_up(1.01 * made["coupling", 2], "E6")
        return made
