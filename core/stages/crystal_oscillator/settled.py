"""Preferred values set right by what the whole circuit does: margin, level, heat, and nothing far above."""

from dataclasses import replace
from functools import lru_cache
from math import exp, isfinite, log, pi, sqrt
from types import MappingProxyType

import numpy as np

from core.circuits.active.amplitude import swing
from core.circuits.active.operating import Bias
from core.circuits.active.oscillation import Rest
from core.circuits.circuit import THERMAL_V, Bipolar
from core.circuits.units import watts
from core.model.values.parts import Role, Which
from core.stages.crystal_oscillator.asked import Asked, Place
from core.stages.crystal_oscillator.soldered import BASE, FAMILY, OUT, Fitted, bias_ohm
from core.stages.crystal_oscillator.switched import Switched, rest_without, switched
from core.stages.crystal_oscillator.values import (
    CLASS_A,
    LEAST_A,
    LEAST_BUFFER_A,
    MOST_BUFFER_A,
    Fitting,
    Values,
    biased,
    crystal_of,
    degenerated,
    first_buffer,
    first_oscillator,
    fixed,
    most_a,
)
from core.stages.crystal_oscillator.working import beside, buffer_ref, room_of
from core.stages.outcome import Unsolved
from core.stages.parts import Built, Key

#: Rounds in which the values are set right, and the grid that they are found on [nepers of frequency].
_ROUNDS, _GRID = 8, 2e-2
#: Dividers that are tried where the crystal gets too hot, and the least load that they are [F]; choices.
_COOLED, _LEAST_LOAD_F = 5, 20e-12
#: Over a coil's reactance, what is tried across it in turn [-], and the margin far above the crystal that is
#: none yet [-]; choices.
_DAMPED, BESIDE_MOST = (40.0, 20.0, 10.0), 0.6
#: Beyond this over what is asked there is more margin than is good for the crystal [-].
_TOO_MUCH = 1.15
#: Margin beyond what is asked, for what the grid leaves [-].
_RESERVE = 1.03


def nearby(asked: Asked) -> Asked:
    """The same at a crystal's frequency of a grid of two per cent: what preferred values are found for, so
    that they are not found anew with every step of an IF. Nor do they know what was fitted, which takes the
    place of one of them and moves no other.
    """
    intent = asked.circuit.edited(("as_built",), ()) if asked.circuit.as_built else asked.circuit
    return on_grid(replace(asked, circuit=intent), _GRID)


def on_grid(asked: Asked, share: float) -> Asked:
    """The same at a crystal's frequency of a grid of so large a share [-], its places moved with it to the
    next hundred hertz. A crystal whose frequency was measured stays with them where it is.
    """
    if Built(FAMILY, asked.circuit.as_built).get("crystal", 1) is not None:
        return asked
    fs_hz = exp(round(log(asked.fs_hz) / share) * share)
    places = tuple(
        Place(which=each.which, wanted_hz=fs_hz + 100 * round((each.wanted_hz - asked.fs_hz) / 100))
        for each in asked.places
    )
    return replace(asked, fs_hz=fs_hz, places=places)


#: Capacitors that are taken instead of bought ones, by place [F].
OnHand = tuple[tuple[Key, float], ...]
SolvedValues = tuple[tuple[Role, Which, float, float, str], ...]


@lru_cache(maxsize=32)
def solved_values(asked: Asked, on_hand: OnHand = ()) -> SolvedValues:
    """What is designed and what is taken, `on_hand` [F] or of a series, of each part that is not switched."""
    load_f = asked.load_f
    for _ in range(_COOLED):
        values = Values(asked, on_hand)
        crystal = crystal_of(asked, values.built)
        emitter_v = first_oscillator(asked, values, crystal, load_f)
        fixed(asked, values)
        first_buffer(asked, values, emitter_v)
        for times in _DAMPED:
            rest = _settled(asked, values, crystal)
            if rest is None or not _damped(asked, values, crystal, rest, times):
                break
        else:
            _settled(asked, values, crystal)
        given = ("feedback_lower", None) in values.on_hand
        if values.heat_w <= asked.circuit.most_w or load_f <= _LEAST_LOAD_F or given:
            break
        # The heat goes with the square of what the divider lets through.
        load_f = max(load_f * max(0.5, 0.9 * sqrt(asked.circuit.most_w / values.heat_w)), _LEAST_LOAD_F)
    return tuple(
        (role, which, row.designed, row.preferred, row.note) for (role, which), row in values.rows.items()
    )


def _settled(asked: Asked, values: Values, crystal: Fitting) -> Rest | None:
    """Values set right until nothing is to be changed any more; what they leave of the circuit.

    More current makes more margin only up to where its bias takes it away again: then what was best stays.
    """
    rest: Rest | None = None
    best: tuple[float, Values] | None = None
    values.steady = False
    for _ in range(_ROUNDS):
        found = rest_without(asked, values, crystal)
        if isinstance(found, Unsolved):
            return None
        rest = found[0]
        rows = tuple(switched(asked, values, crystal, rest, place) for place in asked.places)
        kept = values.copied()
        changed = _set_right(asked, values, crystal, *found, rows)
        if best is not None and values.margin < best[0] < asked.circuit.margin and not values.steady:
            values.take(best[1])
            values.steady = True
            continue
        if best is None or values.margin > best[0]:
            best = (values.margin, kept)
        if not changed:
            break
    return rest


def _damped(asked: Asked, values: Values, crystal: Fitting, rest: Rest, times: float) -> bool:
    """A resistor of so many times its reactance across each coil with which the circuit could oscillate far
    above its crystal; False where nothing is to be changed.
    """
    tried = values.copied()
    changed = False
    for place in asked.places:
        row = switched(asked, values, crystal, rest, place)
        row.fitted_in(tried, asked)
        fitted = Fitted(
            values=MappingProxyType(tried.fitted),
            crystal=crystal.part,
            coil_q=MappingProxyType({place.which: row.coil_q}),
        )
        found = beside(fitted, rest, place.which) if row.pulling.coil_h else None
        if found is not None and found[1] > BESIDE_MOST:
            ohm = times * 2 * pi * place.wanted_hz * row.pulling.coil_h
            values.put("damping_resistor", place.which, ohm, asked.circuit.resistors, "across the coil")
            changed = True
    return changed


def _set_right(
    asked: Asked,
    values: Values,
    crystal: Fitting,
    rest: Rest,
    direct: Bias,
    rows: tuple[Switched, ...],
) -> bool:
    """Values nearer to what is asked, by what the whole circuit does at each of its places; False where
    nothing is to be changed.
    """
    losses = np.array([row.losses_ohm for row in rows])
    f = np.array([row.place.wanted_hz for row in rows])
    x, needed = rest.holding(f[:, None], losses)
    of, full_a = rest.device, most_a(rest.device)
    # Of a crystal with which nothing makes it go, as it goes with an ordinary one.
    most_s = float(np.max(needed[:, 1 if np.isfinite(needed[:, 1]).all() else 0]))
    values.margin = worst = rest.transconductance_s / most_s if isfinite(most_s) else 0.0
    changed = False
    margin = _RESERVE * asked.circuit.margin
    short_of = worst < margin and rest.at_a < 0.95 * full_a
    if not values.steady and (short_of or (worst > _TOO_MUCH * margin and rest.at_a > LEAST_A)):
        before = dict(values.fitted)
        # Where even then its own bias stops it, less current.
        short = margin / min(max(worst, 0.3 * margin), 3 * margin) if worst > 0 else 0.5
        power = 1.1 if isinstance(of, Bipolar) else 2.2
        biased(asked, values, of, min(values.current_a * short**power, 1.2 * full_a))
        changed = values.fitted != before
    levels, values.heat_w = [], 0.0
    for n, m in np.ndindex(needed.shape):
        found, ohm = None, complex(losses[n, m], x[n, m])
        if isfinite(needed[n, m]):
            room = room_of(rest, direct, float(f[n]), ohm)
            need = float(needed[n, m])
            found = swing(of, rest.at_a, need, bias_ohm(asked, values.fitted), room)
        if found is None:
            continue
        volts = rest.volts(float(f[n]), ohm, found.control_v)
        heat = 0.5 * abs(volts[rest.nodes.index(BASE)] / ohm) ** 2 * rows[n].bare_ohm[m]
        values.heat_w = max(values.heat_w, float(heat))
        if m == 0:
            levels.append(abs(volts[rest.nodes.index(OUT)]))
    if len(levels) < len(rows):
        return changed
    wanted_v = sqrt(2 * asked.port_ohm * watts(asked.level_dbm))
    rest_a = direct.transistors[buffer_ref()].output_a
    own = THERMAL_V / rest_a
    # The weakest of its places is to be as strong as is asked.
    wanted_ohm = max((values.wanted_ohm + own) * float(min(levels)) / wanted_v - own, 1.0)
    wanted_a = min(max(CLASS_A * wanted_v / asked.port_ohm, LEAST_BUFFER_A), MOST_BUFFER_A)
    before = dict(values.fitted)
    degenerated(asked, values, wanted_ohm, wanted_a)
    return changed or values.fitted != before
