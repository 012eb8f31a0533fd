"""Band-pass of two or three coupled resonators: fitted to its exact response, wound and rounded.

The first design is exact for vanishing bandwidth only, so its capacitors are fitted on the lossless network.
"""

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from math import pi, sqrt

import numpy as np

from core.circuits.circuit import Part, Transformer
from core.circuits.fit import Fit, fit_losses
from core.circuits.ladder import Arm, Coupled, Network, solve
from core.circuits.response import LEFT_OUT, pass_band, served_grid
from core.circuits.shapes.prototypes import attenuation_db, three_db_edge
from core.model.bands import Dials
from core.model.stages.filters import BandPassFilter
from core.model.values.notation import format_value
from core.stages.band_pass.aim import Aim
from core.stages.band_pass.first_design import centre_of, first_design, usual_inductance
from core.stages.band_pass.trimmers import STRAY_F, trimming
from core.stages.coils import winding
from core.stages.gate import gate
from core.stages.on_hand import ALL_BOUGHT, Shelf, first_on_hand
from core.stages.outcome import FilterDesign, FilterFigures, Unsolved
from core.stages.parts import Built
from core.trade.series import preferred

#: What capacitors on hand may add to the worst miss of the loss wanted in the pass-band, as weighted in the
#: fit, dB; a choice.
_ON_HAND_DB = 0.1
#: How often width and centre are corrected for the coils' Q, and how far they may be off for a better match,
#: a share of the width [-].
_ROUNDS, _AS_WIDE = 4, 0.004
#: By how much a tap or link without turns is tried larger and smaller [-].
_STEP = 1.1
_BY_FIELD = "mutual_inductance"
_Arm = Arm | Transformer | Coupled
#: Ends made of turns, solved as a transformer of these turns.
_TURNED = ("link", "tapped_coil")


def _targets(filter: BandPassFilter, f0: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Frequencies, ideal losses and weights of the fit: the pass-band, and its −3 dB points twice as much."""
    edge = three_db_edge(filter.resonators, filter.ripple_db) if filter.shape == "chebyshev" else 1.0
    omega = np.concatenate([np.cos(np.linspace(0, pi, 4 * filter.resonators + 1)), [-edge, edge]])
    ideal = np.array(
        [attenuation_db(filter.shape, filter.resonators, abs(o), filter.ripple_db) for o in omega]
    )
    half = omega * filter.bandwidth_hz / 2
    weights = np.where(ideal > 2.5, 1.0, 2.0)
    # Arithmetic middle, as the builder asked for it.
    return f0 + half, ideal, weights


@lru_cache(maxsize=128)
@gate("The band-pass")
def design(filter: BandPassFilter, dials: Dials, shelf: Shelf = ALL_BOUGHT) -> FilterDesign | Unsolved:
    """The band-pass on its resulting parts; `dials` are the (low, high) [Hz] of the bands it serves.

    Capacitors of the `shelf` are taken where the pass-band is hardly worse. Tank capacitors are not rounded:
    a trimmer in each absorbs what the others' rounding shifted.
    """
    if filter.coupling == "automatic":
        return _coupled(filter, dials, shelf)
    f0 = centre_of(filter, dials)
    if filter.coupling == _BY_FIELD and filter.core:
        return Unsolved(
            f"Coils on {filter.core} keep their field to themselves and hardly couple, and on one core they "
            "couple far too much; wind them in air, beside each other, or couple by capacitors."
        )
    if filter.widths_with_q and f0 is not None:
        return _as_wide(filter, f0, dials, shelf)
    if filter.core and f0 is not None:
        return _wound(filter, f0, dials, shelf)
    return _fitted(filter, dials, shelf)


def _coupled(filter: BandPassFilter, dials: Dials, shelf: Shelf) -> FilterDesign | Unsolved:
    """Coupled at the top; by shunt capacitors where one at the top would be no more than wiring, and by the
    coils' own field where no capacitor can do it.
    """
    top, shunt = (
        _changed(filter, dials, shelf, coupling=coupling) for coupling in ("top_capacitor", "shunt_capacitor")
    )
    if isinstance(top, FilterDesign) and _least_f(top) >= STRAY_F:
        return top
    small = _least_f(top) if isinstance(top, FilterDesign) else None
    asked = "" if small is None else f", as one at the top would be {format_value(small, 'F', 2)}"
    if isinstance(shunt, FilterDesign) and _least_f(shunt) >= STRAY_F:
        return _noted(shunt, "coupling", f"by shunt capacitors{asked}") if asked else shunt
    coils = Unsolved(_beyond(filter)) if filter.core else _changed(filter, dials, shelf, coupling=_BY_FIELD)
    if isinstance(coils, FilterDesign) and _least_f(coils) >= STRAY_F:
        return _noted(coils, "mutual", f"by the coils themselves, as no capacitor can do it{asked}")
    found = [each for each in (top, shunt) if isinstance(each, FilterDesign)]
    return max(found, key=_least_f, default=top)


def _noted(made: FilterDesign, role: str, note: str) -> FilterDesign:
    """The design with a remark on the parts of a role."""
    parts = tuple(
        replace(row, note="; ".join(filter(None, (note, row.note)))) if row.role == role else row
        for row in made.parts
    )
    return replace(made, parts=parts)


def _least_f(made: FilterDesign) -> float:
    """The smallest capacitor as designed, whatever is fitted, F."""
    return min(row.preferred for row in made.parts if row.kind == "capacitor")


def _changed(
    filter: BandPassFilter, dials: Dials, shelf: Shelf, **changes: object
) -> FilterDesign | Unsolved:
    """The design with some fields changed."""
    changed: BandPassFilter | None = filter
    for name, value in changes.items():
        changed = None if changed is None else changed.tried((name,), value)
    return Unsolved(_beyond(filter)) if changed is None else design(changed, dials, shelf)


def _beyond(filter: BandPassFilter) -> str:
    return (
        f"A band-pass {format_value(filter.bandwidth_hz, 'Hz', 3)} wide cannot be had so; ask for another "
        "width or "
        "better coils."
    )


def _as_wide(filter: BandPassFilter, f0: float, dials: Dials, shelf: Shelf) -> FilterDesign | Unsolved:
    """Asked for another width and centre, so that with the coils' Q both come out as they are wanted; then
    all is fitted once more with that Q, so that the ends match as well as they can.
    """
    edge = three_db_edge(filter.resonators, filter.ripple_db) if filter.shape == "chebyshev" else 1.0
    wanted_hz = edge * filter.bandwidth_hz
    asked = filter.tried(("widths_with_q",), False)
    best: tuple[float, BandPassFilter] | None = None
    for _ in range(_ROUNDS):
        found = Unsolved(_beyond(filter)) if asked is None else figures(asked, dials, shelf)
        if asked is None or isinstance(found, Unsolved):
            break
        if found.bandwidth_3db_hz is None or found.centre_hz is None:
            break
        # Preferred couplings come in steps, so that the next round need not be the better one.
        missed = abs(found.bandwidth_3db_hz - wanted_hz) + abs(found.centre_hz - f0)
        best = min(best or (missed, asked), (missed, asked), key=lambda pair: pair[0])
        width = asked.bandwidth_hz * wanted_hz / found.bandwidth_3db_hz
        centre = (centre_of(asked, dials) or f0) + f0 - found.centre_hz
        asked = asked.tried(("bandwidth_hz",), width)
        asked = None if asked is None else asked.tried(("centre_hz",), centre)
    if best is not None:
        return _matched(best[1], dials, shelf, _aim(f0, wanted_hz, dials))
    return found if isinstance(found, Unsolved) else Unsolved(_no_pass_band(filter))


def _aim(f0: float, width_hz: float, dials: Dials) -> Aim:
    """What a filter is fitted to with its losses; its match counts on the dials that lie well inside."""
    half = (1 - 2 * LEFT_OUT) * width_hz / 2
    inside = [
        (max(low, f0 - half), min(high, f0 + half))
        for low, high in dials
        if low < f0 + half and high > f0 - half
    ]
    return Aim(f0, width_hz, tuple(inside) or ((f0 - half, f0 + half),))


def _matched(asked: BandPassFilter, dials: Dials, shelf: Shelf, aim: Aim) -> FilterDesign | Unsolved:
    """The design, or what a fit with its losses makes of it where that reflects less and is as wide."""
    plain = design(asked, dials, shelf)
    if isinstance(plain, Unsolved):
        return plain
    # Links and taps are tried a little larger and smaller, on a core by a turn.
    tried = [plain]
    for more in (0, -1, 1) if asked.ends in _TURNED else (0,):
        f0 = centre_of(asked, dials)
        if asked.core and f0 is not None:
            made = _wound(asked, f0, dials, shelf, aim, more)
        else:
            made = _fitted(asked, dials, shelf, aim=aim, more=more)
        if isinstance(made, FilterDesign):
            tried.append(made)
    allowed = max(aim.off(plain.network), _AS_WIDE)
    fit = [each for each in tried if aim.off(each.network) <= allowed]
    return min(fit or tried[:1], key=lambda each: aim.reflected(each.network))


def _fitted(
    filter: BandPassFilter,
    dials: Dials,
    shelf: Shelf,
    turns: int | None = None,
    *,
    around: bool = True,
    aim: Aim | None = None,
    more: int = 0,
) -> FilterDesign | Unsolved:
    """The filter fitted on its exact response; the coils have so many `turns`, of which taps and links have
    a whole number, if it is known, or so many `more`. The rest is fitted `around` these, or for broken ones;
    with an `aim` the coils' losses are counted in.
    """
    f0 = centre_of(filter, dials)
    first = first_design(filter, dials)
    if isinstance(first, Unsolved):
        return first
    network, ties = first
    assert f0 is not None  # first_design() refuses a filter without a centre
    whole = network
    if turns is not None or more:
        whole = replace(network, arms=tuple(_in_turns(arm, turns, more) for arm in network.arms))
    f, ideal, weights = _targets(filter, f0)
    start = {p.ref: p.value for p in network.parts if p.kind in ("capacitor", "coupling")}
    ideal_values = fit_losses(whole if around else network, start, ties, f, ideal, weights).values
    network = whole
    if aim is not None:
        ideal_values = aim.fitted(
            _with(network, ideal_values, coil_q=filter.coil_q), ideal_values, ties
        ).values
    trimmed_refs = {p.ref for p in network.parts if p.role in ("resonator", "tap_upper")}
    tank = tuple(group for group in ties if group[0] in trimmed_refs)
    bought = {p.ref for p in network.parts if p.kind == "capacitor"} - trimmed_refs
    fixed = {ref: preferred(ideal_values[ref], filter.capacitors) for ref in bought}
    values = {**ideal_values, **fixed}

    def tuned(taken: Mapping[str, float]) -> Fit:
        """The tanks set to these fixed capacitors."""
        now = {**values, **taken}
        if aim is not None:
            return aim.fitted(_with(network, now, coil_q=filter.coil_q), now, tank)
        return fit_losses(_with(network, now), now, tank, f, ideal, weights)

    if filter.capacitors != "exact":
        groups = {group: ideal_values[group[0]] for group in ties if group[0] in fixed}
        if shelf:
            fixed = first_on_hand(
                groups,
                fixed,
                shelf,
                lambda taken: (tuned(taken).worst_db,),
                (tuned(fixed).worst_db + _ON_HAND_DB,),
            )
            values |= fixed
        values |= tuned(fixed).values
    built = Built("band_pass", filter.as_built)
    rows = []
    for each in sorted(network.parts, key=lambda p: (p.kind != "inductor", p.ref)):
        value = values.get(each.ref, each.value)
        row = built.row_of(each, ideal_values.get(each.ref, each.value), value)
        if each.kind == "coupling":
            row = replace(row, note=_spacing(value, f0, _coil_h(network)))
        if each.ref in trimmed_refs:
            trimmed = trimming(filter, f0, value, _coil_h(network), shelf, len(trimmed_refs))
            row = replace(row, note=trimmed.note, pieces=trimmed.pieces, trimmer_f=trimmed.range_f)
        rows.append(row)
    for arm in network.arms:
        if isinstance(arm, Transformer):
            side, ratio = ("source", arm.ratio) if arm.which == 1 else ("load", 1 / arm.ratio)
            note = f"{side} end, {_turns_note(filter, ratio, turns)}"
            rows.append(built.row("link", arm.which, ratio, ratio, note))
    fitted = {row.ref: row.fitted for row in rows}
    final = _with(network, fitted, coil_q=filter.coil_q)
    span = (f0 - 2.5 * filter.bandwidth_hz, f0 + 2.5 * filter.bandwidth_hz)
    reach = (max(span[0], f0 / 20), span[1])
    return FilterDesign(
        network=final,
        parts=tuple(rows),
        end_resistance_ohm=filter.system_ohm,
        span_hz=reach,
        trimmed=tuple(ref for t in tank for ref in t),
    )


def _wound(
    filter: BandPassFilter, f0: float, dials: Dials, shelf: Shelf, aim: Aim | None = None, more: int = 0
) -> FilterDesign | Unsolved:
    """The filter on the coils that whole turns give; its capacitors follow."""
    core = winding.known(filter.core)
    if isinstance(core, Unsolved):
        return core
    wound = winding.on_core(core, filter.inductance_h or usual_inductance(2 * pi * f0), f0)
    if isinstance(wound, Unsolved):
        return wound
    plain = filter.tried(("core",), "")
    for path, value in ((("inductance_h",), wound.inductance_h), (("coil_q",), wound.quality)):
        plain = None if plain is None else plain.tried(path, value)
    if plain is None:
        return Unsolved(
            f"{core.core} gives no coil of use at {format_value(f0, 'Hz', 3)}; choose another core."
        )
    made = _fitted(plain, dials, shelf, wound.turns, aim=aim, more=more)
    if isinstance(made, Unsolved):
        return made
    if filter.ends in _TURNED and aim is None:
        # Turns that are too few or too many are not always made up for: what reflects less is taken.
        other = _fitted(plain, dials, shelf, wound.turns, around=False)
        trials = [each for each in (made, other) if isinstance(each, FilterDesign)]
        inner = f0 + np.linspace(-0.4, 0.4, 41) * filter.bandwidth_hz
        made = min(trials, key=lambda each: float((np.abs(each.response(inner).s11) ** 2).mean()))
    parts = tuple(
        replace(row, note=wound.note) if row.kind == "inductor" and row.role == "coil" else row
        for row in made.parts
    )
    coils = tuple((row.ref, wound) for row in parts if row.role == "coil")
    return replace(made, parts=parts, wound=coils)


def _spacing(k: float, f0: float, coil_h: float) -> str:
    """How two coils [H] come to a coupling of `k` [-] around `f0` [Hz].

    Of two circuits tuned alike one swings at f0/√(1 + k) and f0/√(1 − k); in series they have 2L(1 ± k).
    """
    apart = f0 * (1 / sqrt(1 - k) - 1 / sqrt(1 + k))
    shared, more = (format_value(each * k * coil_h, "H", 3) for each in (1, 4))
    return (
        f"{shared} shared: move the coils until both in series read {more} more aiding than opposing; both "
        f"tuned, with the ends off and probed loosely, their peaks lie {format_value(apart, 'Hz', 3)} apart"
    )


def _in_turns(arm: _Arm, turns: int | None, more: int) -> _Arm:
    """A tap or link of a coil of so many turns with the nearest whole number of them or so many `more`, one
    at least; of a coil of which nothing is known with so many steps more.
    """
    if not isinstance(arm, Transformer):
        return arm
    share = arm.ratio if arm.which == 1 else 1 / arm.ratio
    whole = share * _STEP**more if turns is None else max(round(share * turns) + more, 1) / turns
    return replace(arm, ratio=whole if arm.which == 1 else 1 / whole)


def _turns_note(filter: BandPassFilter, share: float, turns: int | None) -> str:
    tapped = filter.ends == "tapped_coil"
    if turns is None:
        return f"{'tap at' if tapped else 'link winding of'} {share:.3f} of the coil's turns"
    count = round(share * turns)
    said = f"{count} turn{'' if count == 1 else 's'}"
    return f"tap at {said} of {turns}" if tapped else f"link winding of {said} beside {turns}"


def _coil_h(network: Network) -> float:
    return next(each.value for each in network.parts if each.kind == "inductor")


def _with(network: Network, values: Mapping[str, float], coil_q: float | None = None) -> Network:
    def fitted(part: Part) -> Part:
        q = coil_q if part.kind == "inductor" else part.q
        return replace(part, value=values.get(part.ref, part.value), q=q)

    return replace(
        network,
        arms=tuple(
            arm if isinstance(arm, Transformer) else replace(arm, parts=tuple(fitted(p) for p in arm.parts))
            for arm in network.arms
        ),
    )


@lru_cache(maxsize=128)
@gate("The band-pass")
def figures(filter: BandPassFilter, dials: Dials, shelf: Shelf = ALL_BOUGHT) -> FilterFigures | Unsolved:
    """Centre, bandwidths, ripple and least loss of the band-pass, from its exact response."""
    made = design(filter, dials, shelf)
    if isinstance(made, Unsolved):
        return made
    low, high = made.span_hz
    found = pass_band(made.network, low / 3, high * 3)
    edge_low, edge_high = found.edges_hz[3.0]
    if edge_low is None or edge_high is None:
        return Unsolved(_no_pass_band(filter))
    served = solve(made.network, served_grid(dials)) if dials else None
    return FilterFigures(
        centre_hz=(edge_low + edge_high) / 2,
        bandwidth_3db_hz=found.bandwidth_hz(3.0),
        bandwidth_6db_hz=found.bandwidth_hz(6.0),
        bandwidth_60db_hz=found.bandwidth_hz(60.0),
        ripple_db=found.ripple_db,
        insertion_loss_db=found.least_loss_db,
        return_loss_db=found.return_loss_db,
        served_loss_db=None if served is None else float(served.loss_db.max()),
        served_return_loss_db=None if served is None else float(served.return_loss_db.min()),
    )


def _no_pass_band(filter: BandPassFilter) -> str:
    if filter.as_built:
        return "The band-pass's parts as built make no pass-band; check the as-built values."
    return (
        f"A band-pass {format_value(filter.bandwidth_hz, 'Hz', 3)} wide loses so much in coils of "
        f"Q {filter.coil_q:.0f} that it has no pass-band; ask for more width or take better coils."
    )
