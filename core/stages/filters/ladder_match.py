"""How a ladder's ends meet the resistance around: directly, by a transformer, or by an L-network."""

from dataclasses import replace
from math import ceil, pi, sqrt

from core.circuits.ladder import Arm, Transformer
from core.model.stages.filters import LadderFilter
from core.model.values.notation import format_value
from core.model.values.part_names import reference
from core.stages.coils.winding import broadband, known, wind
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.on_hand import Shelf
from core.stages.outcome import PartRow, Unsolved
from core.stages.parts import Built, part, transformer
from core.stages.wound import Wound
from core.trade.series import in_parallel, nearest, neighbours

#: Unloaded Q of the coil in an L-network end match; an ordinary powdered-iron toroid, from memory.
MATCH_COIL_Q = 150.0
#: An end resistance this near the resistance around needs no match: 21 dB of return loss, where a ladder's
#: own ripple and its crystals' loss leave 10 to 18 dB.
_NEAR_ENOUGH = 1.2
_LARGEST_TURNS = 12
#: An end match of a capacitor on hand may reflect so much [-], 26 dB of return loss; a choice.
_ON_HAND_REFLECTION = 0.05
#: Reactance of a winding over the resistance at it, at least [-]; common practice, no source.
_REACTANCE = 4.0


def choice(value: float, asked: AskedLadder) -> tuple[float, float]:
    """The values [F] below and above `value` that may be fitted; itself where nothing on hand comes near."""
    if asked.ladder.capacitors != "junk_box":
        return neighbours(value, asked.ladder.capacitors)
    return nearest(value, asked.on_hand) or (value, value)


def paired(value: float, series: str) -> list[str]:
    """Which two capacitors make `value` [F] of a series of pairs, as a note; nothing where one does."""
    parts = in_parallel(value, series)
    if len(parts) < 2:
        return []
    return [f"{' and '.join(format_value(each, 'F') for each in parts)} in parallel"]


def nearer(value: float, choice: tuple[float, float]) -> float:
    """The one of two values (any unit) that is nearer to `value` in ratio."""
    below, above = choice
    return below if value / below <= above / value else above


Arms = list[Arm | Transformer]


def is_near(one_ohm: float, other_ohm: float) -> bool:
    """Whether two resistances are near enough for no match between them."""
    return max(one_ohm, other_ohm) < _NEAR_ENOUGH * min(one_ohm, other_ohm)


#: Coils of the match as they are wound, by reference.
Windings = dict[str, Wound]


def match_arms(
    asked: AskedLadder, end_ohm: float, w: float, rows: list[PartRow]
) -> tuple[Arms, Arms, Windings] | Unsolved:
    """Arms that bring `end_ohm` to the resistance around, at the source and at the load side, and how their
    coils are wound where a core was chosen.
    """
    ladder = asked.ladder
    around, built = ladder.system_ohm, Built("ladder", ladder.as_built)
    high, low = max(end_ohm, around), min(end_ohm, around)
    if ladder.end_match == "none" or is_near(end_ohm, around):
        return [], [], {}
    if ladder.end_match == "transformer":
        outer, inner = _turns(sqrt(around / end_ohm))
        wound = _transformer(ladder, (outer, inner), (around, end_ohm), w)
        if isinstance(wound, Unsolved):
            return wound
        turns = tuple(wound.values())[:2]
        told = f"turns {outer} to {inner} towards the filter"
        if turns:
            told = f"{turns[0].turns} to {turns[1].turns} turns towards the filter on {turns[0].on}"
        for number, side in ((1, "source"), (2, "load")):
            exact = sqrt(around / end_ohm)
            rows.append(built.row("match_transformer", number, exact, outer / inner, f"{side} end, {told}"))
        return (
            [transformer("ladder", "match_transformer", 1, outer / inner)],
            [transformer("ladder", "match_transformer", 2, inner / outer)],
            wound,
        )
    q = sqrt(high / low - 1)
    inductance, capacitance = q * low / w, q / (w * high)
    ends: list[Arms] = []
    coil_on = wind(inductance, w / (2 * pi), core=ladder.core) if ladder.core else None
    if isinstance(coil_on, Unsolved):
        return coil_on
    quality, set_h, note, windings = MATCH_COIL_Q, inductance, "end match", {}
    if coil_on is not None:
        quality, set_h = coil_on.quality, coil_on.nearest_h(inductance)
        note = f"end match, {coil_on.note}"
    for number in (1, 2):
        coil = built.row("match_coil", number, inductance, set_h, note)
        if coil_on is not None:
            windings[coil.ref] = coil_on
        taken = _on_hand(capacitance, inductance, high, low, w, asked.shelf)
        if taken is None:
            taken = nearer(capacitance, choice(capacitance, asked))
        notes = ("end match", *paired(taken, ladder.capacitors))
        shunt = built.row("match_capacitor", number, capacitance, taken, "; ".join(notes))
        rows += [coil, replace(shunt, pieces=in_parallel(taken, ladder.capacitors))]
        series_arm = Arm("series", (part("ladder", "match_coil", number, coil.fitted, quality),))
        shunt_arm = Arm("shunt", (part("ladder", "match_capacitor", number, shunt.fitted),))
        # The shunt capacitor stands on the side of the higher resistance.
        towards_filter = [shunt_arm, series_arm] if around > end_ohm else [series_arm, shunt_arm]
        ends.append(list(towards_filter) if number == 1 else list(reversed(towards_filter)))
    return ends[0], ends[1], windings


def _transformer(
    ladder: LadderFilter, ratio: tuple[int, int], ohms: tuple[float, float], w: float
) -> Windings | Unsolved:
    """The windings of either transformer, outer and inner, with the fewest turns in this ratio that are some
    times the resistances there; empty where no core was chosen.
    """
    if not ladder.core:
        return {}
    core = known(ladder.core)
    if isinstance(core, Unsolved):
        return core
    # The same reactance over resistance on both sides, as turns and impedances go together.
    least = sqrt(_REACTANCE * max(ohm / n**2 for ohm, n in zip(ohms, ratio, strict=True)) / (w * core.al_h))
    times = max(ceil(least), 1)
    outer, inner = (times * n for n in ratio)
    found: Windings = {}
    for number in (1, 2):
        ref = reference("ladder", "match_transformer", number)
        for name, turns in (("outer", outer), ("inner", inner)):
            made = broadband(core, turns, w / (2 * pi), beside=outer + inner - turns)
            if isinstance(made, Unsolved):
                return made
            found[f"{ref}, {name} winding"] = made
    return found


def _on_hand(
    wanted: float, inductance: float, high: float, low: float, w: float, shelf: Shelf
) -> float | None:
    """A capacitor on hand near `wanted` [F], a pair of it, with which an L-network between two resistances
    [ohm] reflects no more than _ON_HAND_REFLECTION at `w` [rad/s]; None where none does.
    """

    def reflected(farad: float) -> float:
        seen = 1 / (1 / high + 1j * w * farad) + 1j * w * inductance
        return abs((seen - low) / (seen + low))

    best = min(shelf.near(wanted, 2), key=reflected, default=None)
    return None if best is None or reflected(best) > _ON_HAND_REFLECTION else best


def _turns(ratio: float) -> tuple[int, int]:
    """Small whole numbers of turns nearest to `ratio` [-], fewest turns among equals."""
    if not 1 / _LARGEST_TURNS <= ratio <= _LARGEST_TURNS:
        return (round(ratio), 1) if ratio > 1 else (1, round(1 / ratio))
    pairs = [(a, b) for a in range(1, _LARGEST_TURNS + 1) for b in range(1, _LARGEST_TURNS + 1)]
    return min(pairs, key=lambda p: (round(abs(p[0] / p[1] / ratio - 1), 2), p[0] + p[1]))


def seen_from_the_ends(ladder: LadderFilter, end_ohm: float) -> float:
    """The resistance [ohm] that the bare ladder sees: directly, or through a transformer of whole turns."""
    if is_near(end_ohm, ladder.system_ohm):
        return ladder.system_ohm
    if ladder.end_match != "transformer":
        return end_ohm
    outer, inner = _turns(sqrt(ladder.system_ohm / end_ohm))
    return ladder.system_ohm * (inner / outer) ** 2
