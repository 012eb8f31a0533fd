"""A power stage's parts: around a chip, or of a driver with a complementary pair.

The pair works in class B with a little current at rest; its driver's load is lifted by a capacitor, so that
it has current for the whole swing. Customary values; the one resistor that sets the gain is solved on the
whole circuit.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache, partial
from math import exp, log, log10, pi, sqrt

from core.circuits.active.linear import around
from core.circuits.active.operating import bias
from core.circuits.active.two_port import of_linear
from core.circuits.circuit import Bipolar
from core.circuits.devices.chips import FixedAmplifier
from core.model.stages.audio import AudioPower
from core.model.transistors import OwnTransistor
from core.model.values.notation import format_value
from core.model.values.part_names import NAMES
from core.model.values.parts import TYPED
from core.stages.audio.boards import soldered
from core.stages.audio.design import (
    CLIPS_HARD_DB,
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
from core.stages.audio.on_hand import cornered
from core.stages.gate import gate
from core.stages.nameless import nameless
from core.stages.on_hand import ALL_BOUGHT, Shelf
from core.stages.outcome import PartRow, Unsolved
from core.stages.parts import Key
from core.stages.transistors import transistor
from core.trade.audio import ChipRow, audio_chips
from core.trade.devices import Row
from core.trade.series import preferred

#: Resistance before the stage that it is looked at from [ohm]: a volume control of 10 kΩ, half way down.
SOURCE_OHM = 2.5e3
#: Against oscillation at the output [ohm, F]; across the supply and at a chip's bypass pin [F]: data sheets.
_DAMPING, _FEED_F, _BYPASS_F = (10.0, 47e-9), 470e-6, 10e-6
#: Of the pair: the driver's current over what the bases need at the peak, and its least [A]; the most of
#: feedback's resistor [ohm], its current over the driver's base current [-]; where gain ends [Hz].
_DRIVER_SHARE, _LEAST_DRIVER_A, _FEEDBACK_OHM, _FEEDBACK_SHARE, _ENDS_HZ = 1.5, 2e-3, 100e3, 2.0, 20e3
_BASE_V, _LOST_V = 0.66, 1.0
#: Resistors at the emitters of the pair, over the load and at least [-, ohm].
_EMITTER_SHARE, _LEAST_EMITTER = 1 / 16, 0.47
_ROUNDS = 12
#: Capacitors that the corners are made by.
_CORNERING: tuple[Key, ...] = (("coupling", 1), ("coupling", 2), ("gain_block", None), ("high_cut", None))


def design(
    stage: AudioPower, own: Sequence[OwnTransistor] = (), shelf: Shelf = ALL_BOUGHT
) -> AudioDesign | Unsolved:
    """The stage's parts, on preferred values and as built, and its state at rest; `own` are the builder's
    own transistors. Capacitors of the `shelf` are taken where the corners are hardly worse for it.
    """
    of: Row | ChipRow | Unsolved = (
        audio_chips()[stage.chip] if stage.topology == "chip" else transistor(stage.device, own)
    )
    return of if isinstance(of, Unsolved) else _design(nameless(stage), of, shelf)


@lru_cache(maxsize=64)
@gate("The power stage")
def _design(stage: AudioPower, of: Row | ChipRow, shelf: Shelf) -> AudioDesign | Unsolved:
    exact = _around_chip(stage, of) if isinstance(of, ChipRow) else _complementary(stage, of)
    if isinstance(exact, Unsolved):
        return exact
    made = {place: _rounded(stage, place, value) for place, value in exact.items()}
    if not isinstance(of, ChipRow):
        place: Key = ("input_resistor", None)
        got_db = partial(_gain_db, stage, of)
        tried = nearest_gain(made, place, exact, stage.resistors, stage.gain_db, got_db)
        if isinstance(tried, Unsolved):
            return tried
        made = tried
    if shelf:
        made = _on_hand(stage, of, exact, made, shelf)
    parts = rows("audio_power", stage.topology, stage.as_built, (exact, made), of.name)
    circuit = _soldered(stage, of, _fitted(parts))
    return at_rest(
        circuit,
        board=stage.topology,
        of=of,
        parts=parts,
        asked=Asked(gain_db=stage.gain_db, input_ohm=None, low_hz=stage.low_hz, high_hz=None),
        beyond_db=CLIPS_HARD_DB,
    )


def _on_hand(
    stage: AudioPower,
    of: Row | ChipRow,
    exact: Mapping[Key, float],
    bought: Mapping[Key, float],
    shelf: Shelf,
) -> dict[Key, float]:
    """The same with capacitors of a shelf where they leave the corners as they are."""
    # Direct currents pass no capacitor.
    rest = bias(_soldered(stage, of, bought))
    if isinstance(rest, Unsolved):
        return dict(bought)

    def response(values: Mapping[Key, float], f_hz: float) -> float | Unsolved:
        made = around(_soldered(stage, of, values), rest)
        port = made if isinstance(made, Unsolved) else of_linear(made, [f_hz])
        return port if isinstance(port, Unsolved) else float(port.gain_db(SOURCE_OHM, stage.load_ohm)[0])

    wanted = {place: exact[place] for place in _CORNERING if place in exact}
    high_hz = _ENDS_HZ if ("high_cut", None) in exact else None
    return cornered(wanted, bought, shelf, response, stage.low_hz, high_hz, asked_high=False)


def _fitted(parts: tuple[PartRow, ...]) -> dict[Key, float]:
    return {(row.role, row.which): row.fitted for row in parts if row.kind not in TYPED}  # type: ignore[misc]


def _soldered(stage: AudioPower, of: Row | ChipRow, values: Mapping[Key, float]):  # type: ignore[no-untyped-def]
    ends = (SOURCE_OHM, stage.load_ohm, stage.supply_v)
    if isinstance(of, ChipRow):
        return soldered("chip", values, ends, chip=of.device)
    return soldered("complementary", values, ends, device=of.model)


def _rounded(stage: AudioPower, place: Key, value: float) -> float:
    if NAMES["audio_power"][place[0]].kind == "resistor":
        return preferred(value, stage.resistors)
    return preferred(value, "E12") if place[0] == "high_cut" else next_up(value, "E6")


def _ends(stage: AudioPower) -> dict[Key, float]:
    """What every power stage has at its output."""
    values: dict[Key, float] = {
        ("damping_resistor", None): _DAMPING[0],
        ("damping_capacitor", None): _DAMPING[1],
        ("feed_bypass", None): _FEED_F,
    }
    if stage.series_ohm is not None:
        values["output_resistor", None] = stage.series_ohm
    return values


def _around_chip(stage: AudioPower, of: ChipRow) -> dict[Key, float] | Unsolved:
    chip = of.device
    assert isinstance(chip, FixedAmplifier)
    problem = outside_supply(of, stage.supply_v)
    if problem is not None:
        return Unsolved(problem)
    least_db = 20 * log10(chip.feedback_ohm / (chip.emitter_ohm + chip.gain_ohm))
    most_db = 20 * log10(chip.feedback_ohm / chip.emitter_ohm) if of.gain_pins else least_db
    if not least_db - 0.5 <= stage.gain_db <= most_db + 0.5:
        has = f"{least_db:.0f} dB" if most_db == least_db else f"{least_db:.0f} to {most_db:.0f} dB"
        return Unsolved(f"{of.name} has {has} of gain; ask for that, and for the rest before it.")
    values = _ends(stage) | {("bias_bypass", None): _BYPASS_F}
    wanted = chip.feedback_ohm / 10 ** (stage.gain_db / 20) - chip.emitter_ohm
    pins = stage.gain_db > least_db + 0.25
    corners = 3 if pins else 2
    each_hz = stage.low_hz * sqrt(2 ** (1 / corners) - 1)
    if pins:
        ohm = inverse(1 / wanted - 1 / chip.gain_ohm) if wanted > 1.0 else 0.0
        if ohm >= 1.0:
            values["gain_resistor", None] = ohm
        beside = inverse(1 / chip.emitter_ohm + 1 / chip.gain_ohm)
        values["gain_block", None] = 1 / (2 * pi * each_hz * (ohm + beside))
    load = stage.load_ohm + (stage.series_ohm or 0.0)
    values["coupling", 1] = 1 / (2 * pi * each_hz * (SOURCE_OHM + chip.input_ohm))
    values["coupling", 2] = 1 / (2 * pi * each_hz * load)
    return values


def _complementary(stage: AudioPower, of: Row) -> dict[Key, float] | Unsolved:
    device = of.model
    if not isinstance(device, Bipolar):
        return Unsolved(
            f"This circuit is for a bipolar transistor and {of.name} is none; choose another.", "device"
        )
    load = stage.load_ohm + (stage.series_ohm or 0.0)
    middle_v = stage.supply_v / 2
    if middle_v < 2.0:
        return Unsolved(f"{stage.supply_v:.3g} V are too little for this circuit; give it 4 V or more.")
    driver_a = max(_DRIVER_SHARE * (middle_v - _LOST_V) / load / device.current_gain, _LEAST_DRIVER_A)
    base_a = driver_a / device.current_gain
    feedback = min(_FEEDBACK_OHM, (middle_v - _BASE_V) / (_FEEDBACK_SHARE * base_a))
    half = (middle_v - _BASE_V) / driver_a / 2
    each_hz = stage.low_hz * sqrt(2 ** (1 / 2) - 1)
    values = _ends(stage) | {
        ("feedback", None): feedback,
        ("bias_lower", None): _BASE_V / ((middle_v - _BASE_V) / feedback - base_a),
        ("load", 1): half,
        ("load", 2): half,
        ("bootstrap", None): 1 / (2 * pi * stage.low_hz / 3 * half / 2),
        ("emitter", 1): max(_EMITTER_SHARE * stage.load_ohm, _LEAST_EMITTER),
        ("emitter", 2): max(_EMITTER_SHARE * stage.load_ohm, _LEAST_EMITTER),
        ("high_cut", None): 1 / (2 * pi * _ENDS_HZ * feedback),
        ("input_resistor", None): feedback / 10 ** (stage.gain_db / 20),
        ("coupling", 2): 1 / (2 * pi * each_hz * load),
    }
    values["coupling", 1] = 1 / (2 * pi * each_hz * (SOURCE_OHM + values["input_resistor", None]))
    trouble = _set_gain(stage, of, values)
    if trouble is not None:
        return trouble
    values["coupling", 1] = 1 / (2 * pi * each_hz * (SOURCE_OHM + values["input_resistor", None]))
    return values


def _gain_db(stage: AudioPower, of: Row, values: Mapping[Key, float]) -> float | Unsolved:
    """Voltage gain to the output before any resistor in series with the load, dB."""
    circuit = _soldered(stage, of, values)
    rest = bias(circuit)
    made = rest if isinstance(rest, Unsolved) else around(circuit, rest)
    port = made if isinstance(made, Unsolved) else of_linear(made, [TONE_HZ])
    if isinstance(port, Unsolved):
        return port
    lost_db = 20 * log10(1 + (stage.series_ohm or 0.0) / stage.load_ohm)
    return float(voltage_gain_db(port, stage.load_ohm)[0]) + lost_db


def _set_gain(stage: AudioPower, of: Row, values: dict[Key, float]) -> Unsolved | None:
    """The input's resistor, by the secant's method on its logarithm."""
    place: Key = ("input_resistor", None)
    got = _gain_db(stage, of, values)
    for _ in range(_ROUNDS):
        if isinstance(got, Unsolved):
            return got
        if abs(got - stage.gain_db) < 0.02:
            return None
        beside = _gain_db(stage, of, {**values, place: values[place] * 1.02})
        if isinstance(beside, Unsolved):
            return beside
        slope = (beside - got) / log(1.02)
        step = (stage.gain_db - got) / slope if slope < -0.05 else -0.7
        values[place] = min(max(values[place] * exp(min(max(step, -1.2), 1.2)), 10.0), 1e6)
        got = _gain_db(stage, of, values)
    if isinstance(got, Unsolved):
        return got
    return Unsolved(
        f"{format_value(stage.gain_db, 'dB', 3)} cannot be had of this circuit into this load: it comes to "
        f"{format_value(got, 'dB', 3)}; ask for less, and for the rest before it."
    )
