"""Values of a crystal oscillator's parts: first ones by a Colpitts circuit's closed forms, derived here."""

from collections.abc import Iterable
from copy import copy
from dataclasses import replace
from functools import cached_property
from math import inf, pi, sqrt
from typing import cast

from core.circuits.active.amplitude import swing
from core.circuits.circuit import THERMAL_V, Bipolar, Part, SquareLaw
from core.circuits.resonator import in_series
from core.circuits.units import watts
from core.model.stages.filters import Crystal
from core.model.values.parts import Role, Which
from core.record import record
from core.stages.crystal_oscillator.asked import Asked
from core.stages.crystal_oscillator.soldered import BUFFER, FAMILY, OSCILLATOR, device_of, is_jfet
from core.stages.outcome import PartRow
from core.stages.parts import Built, Key, part
from core.trade.devices import devices
from core.trade.series import neighbours, preferred

#: Currents of the oscillator's transistor that are tried [A]; below them its gain falls, above them it heats.
LEAST_A, MOST_A = 0.2e-3, 10e-3
#: Share of the supply across the emitter resistors of oscillator and buffer [-], the base-emitter voltage
#: [V], and what a divider draws over the base's current [-]: common practice, no source.
_EMITTER_SHARE, _BUFFER_SHARE, _BASE_V, _STIFF, _BUFFER_STIFF = 0.3, 0.15, 0.7, 20.0, 6.0
#: The buffer's mean current over its peak one [-], and its bounds [A]; choices.
CLASS_A, LEAST_BUFFER_A, MOST_BUFFER_A = 1.6, 2e-3, 40e-3
#: What is not solved for: the feed's resistor and the capacitors [ohm, F], a JFET's gate resistor [ohm].
_FEED_OHM, _BLOCK_F, _GATE_OHM = 100.0, 100e-9, 100e3
#: Reactance of the coupling to the buffer [ohm], and of chokes over what they stand at [-]: common practice.
_COUPLING_OHM, _CHOKE_TIMES = 20.0, 40.0
#: Beyond this over what the buffer's emitter resistor can do a resistor stands before its base [-].
_TAKEN = 1.1
#: About what bias and buffer put across base (gate) and across emitter (source) [S], for first values.
_DIVIDER_S, _EMITTER_S = 1 / 20e3, 1 / 600.0


class Values:
    """Values as they are found: designed, on preferred values, as built."""

    def __init__(self, asked: Asked, on_hand: Iterable[tuple[Key, float]] = ()) -> None:
        self.built = Built(FAMILY, asked.circuit.as_built)
        #: Taken instead of what is bought [F].
        self.on_hand = dict(on_hand)
        self.rows: dict[Key, PartRow] = {}
        self.fitted: dict[Key, float] = {}
        #: What the oscillator's resistors were found for, A.
        self.current_a = 0.0
        #: What the buffer's emitter would want for the signal, ohm.
        self.wanted_ohm = 0.0
        #: Heat in the crystal at its hottest, W.
        self.heat_w = 0.0

        #: How many times the worst crystal's need the transistor had when last looked at [-], and whether its
        #: current is to stay.
        self.margin, self.steady = 0.0, False

    def copied(self) -> "Values":
        """The same values, to be changed apart."""
        made = copy(self)
        made.rows, made.fitted = dict(self.rows), dict(self.fitted)
        return made

    def take(self, other: "Values") -> None:
        """The values of others instead."""
        self.rows, self.fitted = dict(other.rows), dict(other.fitted)
        self.current_a, self.wanted_ohm = other.current_a, other.wanted_ohm

    def put(self, role: Role, which: Which, designed: float, series: str = "exact", note: str = "") -> float:
        """What is fitted where a value is designed [SI]: what is on hand, else the nearest of a series."""
        near = self.on_hand.get((role, which)) or preferred(designed, series)
        return self.keep(self.built.row(role, which, designed, near, note)).fitted

    def below(self, role: Role, which: Which, designed: float, series: str, note: str) -> float:
        """The same with the next of the series below."""
        return self.keep(self.built.row(role, which, designed, neighbours(designed, series)[0], note)).fitted

    def at(
        self,
        role: Role,
        which: Which,
        exact: float,
        note: str,
        trimmer_f: tuple[float, float] | None = None,
    ) -> PartRow:
        """The row of what is set or wound to a value."""
        return self.keep(replace(self.built.row(role, which, exact, exact, note), trimmer_f=trimmer_f))

    def drop(self, role: Role, which: Which) -> None:
        """Without that part."""
        self.rows.pop((role, which), None)
        self.fitted.pop((role, which), None)

    def keep(self, row: PartRow) -> PartRow:
        """Takes a row."""
        self.rows[cast(Role, row.role), row.which] = row
        self.fitted[cast(Role, row.role), row.which] = row.fitted
        return row


@record(eq=False, slots=False)
class Fitting:
    """The crystal as fitted: series resonance [Hz], and its circuit."""

    fs_hz: float
    of: Crystal

    @cached_property
    def part(self) -> Part:
        """As a part of the circuit."""
        of = self.of
        figures = (of.quality_factor, of.motional_inductance_h, of.holder_capacitance_f)
        return part(FAMILY, "crystal", 1, self.fs_hz, *figures)


def crystal_of(asked: Asked, built: Built) -> Fitting:
    """The crystal that is asked for, with what was measured of the one fitted."""
    of, changes = asked.crystal, {}
    for name, figure in (
        ("motional_inductance_h", "lm"),
        ("holder_capacitance_f", "c0"),
        ("quality_factor", "q"),
    ):
        value = built.get("crystal", 1, figure)
        if value is not None:
            changes[name] = value
    for name, value in changes.items():
        of = of.edited((name,), value)
    return Fitting(built.get("crystal", 1) or asked.fs_hz, of)


def needed_s(asked: Asked, crystal: Fitting, divider_f: tuple[float, float], loss_ohm: float) -> float:
    """Transconductance [S] that keeps a Colpitts circuit going with a divider, its upper capacitor with the
    transistor's own and its lower one [F], and a crystal of some loss [ohm]: what a current in the crystal's
    row loses in it, across base and across emitter to ground, over gm Vbe Ve that comes back; infinite for
    none.
    """
    of, w = device_of(asked).model, 2 * pi * asked.places[0].wanted_hz
    gain = of.current_gain if isinstance(of, Bipolar) else inf
    loads_s = (1 / _GATE_OHM if is_jfet(asked) else _DIVIDER_S, _EMITTER_S)
    loss_ohm *= (1 + crystal.of.holder_capacitance_f / float(in_series(*divider_f))) ** 2
    upper, lower = (1 / (w * farad) for farad in divider_f)
    lost = loss_ohm + (upper + lower) ** 2 * loads_s[0] + lower**2 * loads_s[1]
    back = upper * lower - upper**2 / gain
    return lost / back if back > 0 else inf


def own_f(asked: Asked) -> float:
    """What the transistor itself puts across the divider's upper capacitor, its charge at a milliampere
    counted [F].
    """
    of = device_of(asked).model
    assert isinstance(of, Bipolar | SquareLaw)
    inner = of.emitter_f if isinstance(of, Bipolar) else of.gate_source_f
    return inner + (of.transit_s * 1e-3 / THERMAL_V if isinstance(of, Bipolar) else 0.0)


def first_oscillator(asked: Asked, values: Values, crystal: Fitting, load_f: float) -> float:
    """Divider, which loads the crystal with a capacitance [F], and bias of the oscillator; gives about how
    far its emitter swings [V, peak].
    """
    of, series = device_of(asked).model, asked.circuit.capacitors
    assert isinstance(of, Bipolar | SquareLaw)
    lower = values.put("feedback_lower", None, 2 * load_f, series, "emitter (source) to ground")
    own = own_f(asked)
    wanted = max(2 * load_f - own, 0.6 * load_f)
    upper = values.put("feedback_upper", None, wanted, series, "base (gate) to emitter (source)") + own
    divider = (upper, lower)
    wanted_s = asked.circuit.margin * needed_s(asked, crystal, divider, asked.worst_ohm)
    current = wanted_s * THERMAL_V if isinstance(of, Bipolar) else wanted_s**2 / (4 * of.slope_a_v2)
    current = min(max(current, LEAST_A), most_a(of))
    biased(asked, values, of, current)
    usual = needed_s(asked, crystal, divider, asked.loss_ohm)
    found = swing(of, current, usual, 0.3 * asked.circuit.supply_v / current)
    control_v = 0.05 if found is None else found.control_v
    return control_v * upper / lower


def biased(asked: Asked, values: Values, of: Bipolar | SquareLaw, current: float) -> None:
    """The resistors that give the oscillator's transistor a current [A] or a little more."""
    values.current_a = current
    supply_v, series = asked.circuit.supply_v, asked.circuit.resistors
    if isinstance(of, SquareLaw):
        control_v = abs(of.threshold_v) - sqrt(current / of.slope_a_v2)
        ohm = max(control_v, 0.01) / current
        values.below("bias_source", None, ohm, series, "source to ground")
        values.put("bias_gate", None, _GATE_OHM, series, "gate to ground")
        w = 2 * pi * asked.places[0].wanted_hz
        choke_h = _CHOKE_TIMES / (w * w * values.fitted["feedback_lower", None])
        values.put("choke", OSCILLATOR, choke_h, "E6", "in series with the source's resistor")
        return
    emitter_v = _EMITTER_SHARE * supply_v
    ohm = emitter_v / current
    values.below("bias_emitter", OSCILLATOR, ohm, series, "emitter to ground")
    _divider(asked, values, OSCILLATOR, emitter_v + _BASE_V, _STIFF * current / of.current_gain)


def _divider(asked: Asked, values: Values, which: int, base_v: float, ampere: float) -> None:
    """A divider at a base that wants a voltage [V], with a current [A] through its lower resistor."""
    supply_v, series = asked.circuit.supply_v, asked.circuit.resistors
    of = devices()[asked.circuit.buffer if which == BUFFER else asked.circuit.device].model
    assert isinstance(of, Bipolar)
    stiff = _BUFFER_STIFF if which == BUFFER else _STIFF
    lower = base_v / ampere
    upper = (supply_v - base_v) / (ampere * (1 + 1 / stiff))
    values.put("bias_lower", which, lower, series, "base to ground")
    values.put("bias_upper", which, upper, series, "supply to base")


def fixed(asked: Asked, values: Values) -> None:
    """What is not solved for."""
    w = 2 * pi * asked.places[0].wanted_hz
    values.put("feed", None, _FEED_OHM, note="supply to oscillator")
    values.put("decoupling", OSCILLATOR, _BLOCK_F, note="oscillator's supply to ground, X7R will do")
    values.put("decoupling", BUFFER, _BLOCK_F, note="supply to ground, X7R will do")
    values.put("coupling", OSCILLATOR, 1 / (w * _COUPLING_OHM), "E6", "to the buffer")
    values.put("coupling", BUFFER, _BLOCK_F, note="output, X7R will do")
    values.put("bypass", None, _BLOCK_F, note="buffer's emitter resistor to ground, X7R will do")
    values.put("choke", BUFFER, _CHOKE_TIMES * asked.port_ohm / w, "E6", "supply to buffer's collector")


def first_buffer(asked: Asked, values: Values, emitter_v: float) -> None:
    """The buffer's resistors where the emitter before it swings by so much [V, peak]."""
    out_v = sqrt(2 * asked.port_ohm * watts(asked.level_dbm))
    peak_a = out_v / asked.port_ohm
    rest_a = min(max(CLASS_A * peak_a, LEAST_BUFFER_A), MOST_BUFFER_A)
    own = THERMAL_V / rest_a
    degenerated(asked, values, max(emitter_v / peak_a - own, 1.0), rest_a)


def degenerated(asked: Asked, values: Values, wanted_ohm: float, rest_a: float) -> None:
    """The buffer's resistors where its emitter wants so much for the signal [ohm], with a current [A].

    What would take more direct voltage than there is for it, a resistor before its base takes.
    """
    values.wanted_ohm = wanted_ohm
    series, of = asked.circuit.resistors, devices()[asked.circuit.buffer].model
    assert isinstance(of, Bipolar)
    emitter_v = _BUFFER_SHARE * asked.circuit.supply_v
    most_ohm, own = 0.6 * emitter_v / rest_a, THERMAL_V / rest_a
    note = "in the buffer's emitter, sets the level"
    fitted = values.put("degeneration", None, min(wanted_ohm, most_ohm), series, note)
    rest = max(emitter_v / rest_a - fitted, 0.2 * emitter_v / rest_a)
    values.put("bias_emitter", BUFFER, rest, series, "to ground, bypassed")
    base_v = rest_a * (fitted + values.fitted["bias_emitter", BUFFER]) + _BASE_V
    _divider(asked, values, BUFFER, base_v, _BUFFER_STIFF * rest_a / of.current_gain)
    over = (wanted_ohm + own) / (min(wanted_ohm, most_ohm) + own)
    upper, lower = values.fitted["bias_upper", BUFFER], values.fitted["bias_lower", BUFFER]
    into_ohm = 1 / (1 / upper + 1 / lower + 1 / (of.current_gain * (fitted + own)))
    values.drop("input_resistor", None)
    if over > _TAKEN:
        values.put(
            "input_resistor", None, (over - 1) * into_ohm, series, "to the buffer's base, sets the level"
        )


def most_a(of: Bipolar | SquareLaw) -> float:
    """The most current that a transistor is given, A: of a JFET four fifths of IDSS at most."""
    if isinstance(of, Bipolar):
        return MOST_A
    return min(0.8 * of.slope_a_v2 * of.threshold_v**2, MOST_A)
