"""What a power amplifier's ends are matched with: windings of whole turns, an L or a pi."""

from collections.abc import Mapping
from math import log, pi, sqrt

import numpy as np

from core.circuits.power.law import Law
from core.circuits.power.load_line import load_for, most_power
from core.model.stages.built_power_amplifier import BuiltPowerAmplifier
from core.model.values.notation import format_value
from core.record import record
from core.stages.coils.winding import wind as wind_coil
from core.stages.on_hand import ALL_BOUGHT, Shelf, first_on_hand
from core.stages.outcome import Unsolved
from core.stages.power_amplifier import transformer
from core.stages.power_amplifier.bias import nearest
from core.stages.power_amplifier.board import Key
from core.stages.power_amplifier.transformer import Windings
from core.stages.wound import Wound

#: What the stage stands between, ohm.
PORT_OHM = 50.0
#: How much more the Q of a pi is than that of an L [-].
_PI_MORE = 1.5
#: Windings may give so much less than the power wanted [-]; a smaller core may take so much more current
#: [-]; so many ratios, the nearest to the load wanted, are tried.
_ENOUGH, _HARDLY_MORE, _MOST_RATIOS = 0.98, 1.03, 8
#: Capacitors or a core on hand may make it take so much more current [-]; a choice.
_ON_HAND_MORE = 1.05
#: Leakage reactance of an input transformer over its resistance, at most [-].
_LEAKS = 0.15


@record(kw_only=True)
class Matched:
    """The output match: the load of one side and the one wanted [ohm], windings, or values as fitted and
    exact.
    """

    load_ohm: float
    wanted_ohm: float
    windings: Windings | None
    values: Mapping[Key, float]
    exact: Mapping[Key, float]
    coil: Wound | None = None


def output_match(
    stage: BuiltPowerAmplifier, law: Law, span_hz: tuple[float, float], shelf: Shelf = ALL_BOUGHT
) -> Matched | Unsolved:
    """The match for the power asked, or the load, over a span of frequencies (low, high) [Hz]; an L or pi of
    capacitors of the `shelf` where that is hardly worse.
    """
    each_w = stage.power_w / stage.sides
    wanted, knee = load_for(stage.supply_v, each_w, law)
    if stage.load_ohm is not None:
        wanted = stage.load_ohm / stage.sides
    elif not wanted > 0:
        # NaN, as the knee ate the supply.
        return Unsolved(
            f"{format_value(stage.power_w, 'W', 3)} takes more current than this transistor passes with "
            f"{stage.supply_v:.3g} V across it (its knee comes to {format_value(knee, 'V', 2)} and "
            "more); ask for less, "
            "give it more volts, take two of them or a larger one."
        )
    if stage.match != "transformer":
        return _tuned(stage, law, wanted, shelf)
    found = _windings(stage, law, wanted, span_hz, shelf)
    if isinstance(found, Unsolved):
        return found
    load = PORT_OHM * (found.primary / found.secondary) ** 2 / stage.sides
    return Matched(load_ohm=load, wanted_ohm=wanted, windings=found, values={}, exact={})


def _windings(
    stage: BuiltPowerAmplifier, law: Law, wanted_ohm: float, span_hz: tuple[float, float], shelf: Shelf
) -> Windings | Unsolved:
    """Of all ratios and cores that give the power at either end of the bands the one that takes the least
    current for it, and the smallest core that takes hardly more, one on hand where there is such; where none
    gives it, the one with most power. Where a load is asked, the ratio nearest to it.
    """

    def ohm(ratio: tuple[int, int]) -> float:
        return PORT_OHM * (ratio[0] / ratio[1]) ** 2

    ratios = sorted(transformer.ratios(), key=lambda each: abs(log(ohm(each) / stage.sides / wanted_ohm)))
    ratios = ratios[: 1 if stage.load_ohm is not None else _MOST_RATIOS]
    power = stage.power_w
    if stage.core:
        tried = [transformer.on_named(stage.core, each, ohm(each), power, *span_hz) for each in ratios]
        found = [each for each in tried if isinstance(each, Windings)]
        if not found:
            return tried[0]
    else:
        found = [
            each for ratio in ratios for each in transformer.candidates(ratio, ohm(ratio), power, *span_hz)
        ]
    if not found:
        return Unsolved(
            f"No ferrite core of the table carries {format_value(power, 'W', 3)} from "
            f"{format_value(span_hz[0], 'Hz', 3)} on and stays cool; ask for less power, or choose a core "
            "yourself."
        )
    seen = np.array([[seen_s(each, f) for f in span_hz] for each in found]) * stage.sides
    most = most_power(stage.supply_v, seen, law)[0].min(-1) * stage.sides
    # For a power the load wants the more current the further it is from a resistance, and the lower.
    current = (np.abs(seen) / np.sqrt(seen.real)).max(-1)
    enough = most >= _ENOUGH * power
    if not enough.any():
        return found[int(np.argmax(most))]
    near = enough & (current <= _HARDLY_MORE * current[enough].min())
    on_hand = enough & (current <= _ON_HAND_MORE * current[enough].min())
    on_hand &= np.array([shelf.has_core(each.core) for each in found])
    near = on_hand if on_hand.any() else near
    sizes = [transformer.volume_m3(each) for each in found]
    return found[min(np.flatnonzero(near), key=lambda n: (sizes[n], current[n]))]


def seen_s(coil: Windings, f_hz: float) -> complex:
    """What the primary shows of a matched load [S] at `f_hz` [Hz], with leakage and its own inductance."""
    omega = 2 * pi * f_hz
    load = PORT_OHM * (coil.primary / coil.secondary) ** 2
    return 1 / (load + 1j * omega * coil.leakage_h) + 1 / (1j * omega * coil.primary_h)


def _tuned(stage: BuiltPowerAmplifier, law: Law, wanted_ohm: float, shelf: Shelf) -> Matched | Unsolved:
    """An L or a pi between the load wanted and the output, low-pass."""
    omega = 2 * pi * stage.designed_at_hz
    low, high = sorted((wanted_ohm, PORT_OHM))
    q = sqrt(max(high / low - 1, 1e-6))
    exact: dict[Key, float] = {}
    if stage.match == "l":
        exact["match_coil", None] = q * low / omega
        exact["match_capacitor", 2 if wanted_ohm <= PORT_OHM else 1] = q / high / omega
    else:
        # Two Ls over a resistance below both.
        q_high = q + _PI_MORE
        middle = high / (1 + q_high**2)
        q_low = sqrt(low / middle - 1)
        exact["match_coil", None] = (q_high + q_low) * middle / omega
        at_drain, at_port = (q_low, q_high) if wanted_ohm <= PORT_OHM else (q_high, q_low)
        exact["match_capacitor", 1] = at_drain / wanted_ohm / omega
        exact["match_capacitor", 2] = at_port / PORT_OHM / omega
    values = {
        key: nearest(value, "E12") if key[0] == "match_capacitor" else value for key, value in exact.items()
    }
    coil: Key = ("match_coil", None)
    load_ohm = wanted_ohm
    wound: Wound | None = None
    if stage.core:
        found = wind_coil(exact[coil], stage.designed_at_hz, core=stage.core)
        if isinstance(found, Unsolved):
            return found
        wound = found
        values[coil] = wound.nearest_h(exact[coil])
    taken = _on_hand(stage, law, wanted_ohm, (exact, values), shelf, wound)
    if taken is not None:
        load_ohm, exact[coil], on_hand = taken
        values |= on_hand
    return Matched(
        load_ohm=load_ohm, wanted_ohm=wanted_ohm, windings=None, values=values, exact=exact, coil=wound
    )


def _on_hand(
    stage: BuiltPowerAmplifier,
    law: Law,
    wanted_ohm: float,
    values: tuple[Mapping[Key, float], Mapping[Key, float]],
    shelf: Shelf,
    wound: Wound | None,
) -> tuple[float, float, Mapping[Key, float]] | None:
    """The load [ohm] that an L or pi of capacitors on hand makes, the coil that tunes them at the frequency
    it is made for [H], and values with what of it the windings can be set to; `values` are those exact and
    those bought. None where they would leave less power than windings may, or take more current than
    _ON_HAND_MORE, and those that would be bought would not.
    """
    if not shelf:
        return None
    exact, bought = values
    omega = 2 * pi * stage.designed_at_hz
    places = [key for key in exact if key[0] == "match_capacitor"]
    coil: Key = ("match_coil", None)

    def around(farads: Mapping[str, float]) -> tuple[float, complex]:
        """Susceptance at the drain [S], and what stands behind the coil [ohm]."""
        at_drain, at_port = (omega * farads.get(f"{which}", 0.0) for which in (1, 2))
        return at_drain, 1 / (1 / PORT_OHM + 1j * at_port)

    def tuning_h(farads: Mapping[str, float]) -> float:
        at_drain, behind = around(farads)
        reactance = _tuning(behind.real, at_drain, omega * exact[coil] + behind.imag)
        return (reactance - behind.imag) / omega

    def set_h(farads: Mapping[str, float]) -> float:
        henry = tuning_h(farads)
        return henry if wound is None else wound.nearest_h(henry)

    def seen(farads: Mapping[str, float], henry: float) -> complex:
        """What the match shows of the port, S."""
        at_drain, behind = around(farads)
        return 1 / (behind + 1j * omega * henry) + 1j * at_drain

    goal_w = min(stage.power_w / stage.sides, float(most_power(stage.supply_v, 1 / wanted_ohm, law)[0]))

    def figures(siemens: complex) -> tuple[float, float]:
        """Power wanted over what there is, and the current for it over that in the load wanted [-]."""
        most_w = float(most_power(stage.supply_v, siemens, law)[0])
        return goal_w / most_w, abs(siemens) * sqrt(wanted_ohm / siemens.real)

    bought_f = {f"{which}": bought[role, which] for role, which in places}
    limits = zip(figures(seen(bought_f, bought[coil])), (1 / _ENOUGH, _ON_HAND_MORE), strict=True)
    wanted_f: dict[tuple[str, ...], float] = {(f"{which}",): exact[role, which] for role, which in places}

    def judged(farads: Mapping[str, float]) -> tuple[float, float]:
        return figures(seen(farads, set_h(farads)))

    found_f = first_on_hand(wanted_f, bought_f, shelf, judged, [max(limit) for limit in limits])
    if found_f == bought_f:
        return None
    made = {coil: set_h(found_f), **{key: found_f[f"{key[1]}"] for key in places}}
    return 1 / seen(found_f, made[coil]).real, tuning_h(found_f), made


def _tuning(ohm: float, siemens: float, near_ohm: float) -> float:
    """The reactance in series with a resistance [ohm] whose susceptance a capacitor's [S] cancels: of both
    the one nearer to `near_ohm`; that with the most where none has as much.
    """
    if siemens == 0:
        return 0.0
    root = sqrt(max(1 - (2 * ohm * siemens) ** 2, 0.0))
    return min(((1 + sign * root) / (2 * siemens) for sign in (1, -1)), key=lambda x: abs(x - near_ohm))


def input_windings(
    stage: BuiltPowerAmplifier,
    span_hz: tuple[float, float],
    shelf: Shelf = ALL_BOUGHT,
    output: Windings | None = None,
) -> tuple[Windings | None, float] | Unsolved:
    """The input's windings over a span of frequencies (low, high) [Hz], and the resistor at each gate that
    matches them [ohm]; on a core of the `shelf` where the `output` leaves one that leaks as little.
    """
    whole = PORT_OHM / stage.input_turns**2
    swamping = stage.swamping_ohm or nearest(whole / stage.sides, stage.resistors)
    if stage.input_turns == 1 and stage.topology != "push_pull":
        return None, swamping
    # A driver's power is a hundredth of what comes out, and warms no core.
    ratio, power = (stage.input_turns, 1), stage.power_w / 20
    found = list(transformer.candidates(ratio, PORT_OHM, power, *span_hz))
    if not found:
        return Unsolved(
            "No ferrite core of the table makes an input transformer from "
            f"{format_value(span_hz[0], 'Hz', 3)} on; take fewer turns for one."
        )
    leaks = [2 * pi * span_hz[1] * each.leakage_h / PORT_OHM for each in found]
    small = [n for n, leak in enumerate(leaks) if leak <= _LEAKS] or [int(np.argmin(leaks))]
    taken = "" if output is None else output.core
    on_hand = [n for n in small if shelf.has_core(found[n].core, 2 if found[n].core == taken else 1)]
    return found[(on_hand or small)[0]], swamping
