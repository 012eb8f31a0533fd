"""How a ladder's ends meet the resistance around: directly, by a transformer, or by an L-network."""

from dataclasses import replace
from math import sqrt

from core.circuits.ladder import Arm, Transformer
from core.model.stages.filters import LadderFilter
from core.model.values.notation import format_value
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.on_hand import Shelf
from core.stages.outcome import PartRow
from core.stages.parts import Built, part, transformer
from core.trade.series import in_parallel, nearest, neighbours

#: Unloaded Q of the coil in an L-network end match; an ordinary powdered-iron toroid, from memory.
MATCH_COIL_Q = 150.0
#: An end resistance this near the resistance around needs no match: 21 dB of return loss, where a ladder's
#: own ripple and its crystals' loss leave 10 to 18 dB.
_NEAR_ENOUGH = 1.2
_LARGEST_TURNS = 12
#: An end match of a capacitor on hand may reflect so much [-], 26 dB of return loss; a choice.
_ON_HAND_REFLECTION = 0.05


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


def match_arms(asked: AskedLadder, end_ohm: float, w: float, rows: list[PartRow]) -> tuple[Arms, Arms]:
    """Arms that bring `end_ohm` to the resistance around, at the source and at the load side."""
    ladder = asked.ladder
    around, built = ladder.system_ohm, Built("ladder", ladder.as_built)
    high, low = max(end_ohm, around), min(end_ohm, around)
    if ladder.end_match == "none" or is_near(end_ohm, around):
        return [], []
    if ladder.end_match == "transformer":
        outer, inner = _turns(sqrt(around / end_ohm))
        for number, side in ((1, "source"), (2, "load")):
            note = f"{side} end, turns {outer} to {inner} towards the filter"
            exact = sqrt(around / end_ohm)
            rows.append(built.row("match_transformer", number, exact, outer / inner, note))
        return (
            [transformer("ladder", "match_transformer", 1, outer / inner)],
            [transformer("ladder", "match_transformer", 2, inner / outer)],
        )
    q = sqrt(high / low - 1)
    inductance, capacitance = q * low / w, q / (w * high)
    ends: list[Arms] = []
    for number in (1, 2):
        coil = built.row("match_coil", number, inductance, inductance, "end match")
        taken = _on_hand(capacitance, inductance, high, low, w, asked.shelf)
        if taken is None:
            taken = nearer(capacitance, choice(capacitance, asked))
        notes = ("end match", *paired(taken, ladder.capacitors))
        shunt = built.row("match_capacitor", number, capacitance, taken, "; ".join(notes))
        rows += [coil, replace(shunt, pieces=in_parallel(taken, ladder.capacitors))]
        series_arm = Arm("series", (part("ladder", "match_coil", number, coil.fitted, MATCH_COIL_Q),))
        shunt_arm = Arm("shunt", (part("ladder", "match_capacitor", number, shunt.fitted),))
        # The shunt capacitor stands on the side of the higher resistance.
        towards_filter = [shunt_arm, series_arm] if around > end_ohm else [series_arm, shunt_arm]
        ends.append(list(towards_filter) if number == 1 else list(reversed(towards_filter)))
    return ends[0], ends[1]


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
