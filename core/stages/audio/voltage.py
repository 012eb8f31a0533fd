"""A voltage amplifier's parts for the gain, input and corners that are asked.

Bias first, from the voltages that a stage of its kind is given by custom; capacitors from the resistances
beside them; then the one resistor that sets the gain, and the capacitor that ends it, on the whole circuit.
Every part then takes a preferred value, and the gain's resistor the one that misses least with all others.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from math import exp, log, pi, sqrt

from core.circuits.active.two_port import TwoPort
from core.circuits.active.variants import Variants
from core.circuits.circuit import THERMAL_V, Bipolar, Circuit, SquareLaw
from core.model.stages.audio import BuiltAudio
from core.model.transistors import OwnTransistor
from core.model.values.notation import format_value
from core.model.values.part_names import NAMES
from core.model.values.parts import TYPED
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
    rows,
    voltage_gain_db,
)
from core.stages.audio.on_hand import cornered
from core.stages.audio.voltage_bias import LEAST_OHM, Start
from core.stages.gate import gate
from core.stages.nameless import nameless
from core.stages.on_hand import ALL_BOUGHT, Shelf
from core.stages.outcome import Unsolved
from core.stages.parts import Key
from core.stages.transistors import transistor
from core.trade.audio import ChipRow, audio_chips
from core.trade.devices import Row
from core.trade.series import preferred

#: How far above the pair's input resistance that of what comes back is kept [-].
_BACK = 3.0
#: Behind the resistor in the supply [F].
_FEED_F = 100e-6
#: Least capacitor that is soldered in [F].
_LEAST_F = 10e-12
_ROUNDS = 8
#: More than this at the lowest frequency asked is beyond its corner, dB.
_CORNER_DB = 3.05


def design(
    stage: BuiltAudio, own: Sequence[OwnTransistor] = (), shelf: Shelf = ALL_BOUGHT
) -> AudioDesign | Unsolved:
    """The stage's parts, on preferred values and as built, and its state at rest; `own` are the builder's
    own transistors. Capacitors of the `shelf` are taken where the corners are hardly worse for it.
    """
    if stage.topology == "operational":
        return _design(nameless(stage), audio_chips()[stage.chip], shelf)
    of = transistor(stage.device, own)
    return of if isinstance(of, Unsolved) else _design(nameless(stage), of, shelf)


@lru_cache(maxsize=64)
@gate("The audio amplifier")
def _design(stage: BuiltAudio, of: Row | ChipRow, shelf: Shelf) -> AudioDesign | Unsolved:
    found = _values(stage.edited(("as_built",), ()), of, shelf)
    if isinstance(found, Unsolved):
        return found
    solver, exact, rounded = found
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


@lru_cache(maxsize=64)
def _values(
    stage: BuiltAudio, of: Row | ChipRow, shelf: Shelf
) -> "tuple[Solver, dict[Key, float], dict[Key, float]] | Unsolved":
    """Exact and preferred values of a stage: whatever is built of it, what was asked is the same."""
    solver = Solver(stage, of)
    problem = solver.start.problem()
    if problem is not None:
        return Unsolved(problem, "" if isinstance(of, ChipRow) else "device")
    exact = solver.solved()
    if isinstance(exact, Unsolved):
        return exact
    rounded = solver.rounded(exact)
    if shelf and not isinstance(rounded, Unsolved):
        rounded = solver.on_hand(exact, rounded, shelf)
    return rounded if isinstance(rounded, Unsolved) else (solver, exact, rounded)


class Solver:
    """The stage asked for, and what its values do."""

    def __init__(self, stage: BuiltAudio, of: Row | ChipRow) -> None:
        self.start = Start(stage, of)
        self.stage, self.board, self.device = stage, self.start.board, self.start.device
        self.chip = of.device if isinstance(of, ChipRow) else None
        self._variants: dict[frozenset[Key], Variants] = {}

    def circuit(self, values: Mapping[Key, float]) -> Circuit:
        """The circuit with these values."""
        stage = self.stage
        ends = (stage.source_ohm, stage.load_ohm, stage.supply_v)
        return soldered(self.board, values, ends, self.device, self.chip)

    def two_port(self, values: Mapping[Key, float], f_hz: float = TONE_HZ) -> TwoPort | Unsolved:
        """What the circuit with these values does at a frequency [Hz], without its noise."""
        # Some parts are there or not.
        variants = self._variants.get(there := frozenset(values))
        if variants is None:
            variants = self._variants[there] = Variants(self.circuit(values))
        return variants.two_port([values[part.role, part.which] for part in variants.parts], f_hz)  # type: ignore[index]

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
        biased = self.start.bias(values)
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
            least = LEAST_OHM if self.board != "operational" else 10.0
            values[place] = min(max(value * exp(min(max(step, -1.2), 1.2)), least), 1e6)
            if self.board == "pair":
                starved = self.start.second_of_pair(values)
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
        own = THERMAL_V / (self.start.second_a if self.board == "pair" else stage.current_a)
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

    def on_hand(
        self, exact: Mapping[Key, float], bought: Mapping[Key, float], shelf: Shelf
    ) -> dict[Key, float]:
        """The same with capacitors of a shelf where they leave the corners as they are asked."""
        bypass: Key = ("bypass", None)
        if self.board == "pair" and (ample_f := shelf.ample(exact[bypass])) is not None:
            # It makes no corner, so that more is as good.
            bought, shelf = {**bought, bypass: ample_f}, shelf.without((ample_f,))
        places: tuple[Key, ...] = (*self._cornering, ("high_cut", None))
        wanted = {place: exact[place] for place in places if place in bought}
        high_hz = self.stage.high_hz if ("high_cut", None) in bought else None
        return cornered(wanted, bought, shelf, self._whole_db, self.stage.low_hz, high_hz)
