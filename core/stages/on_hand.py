"""Capacitors on hand, and taking them wherever what they make is hardly worse than with bought ones.

With `JunkBox.first` a stage is told of a `Shelf` (`stages/on_hand.py`): capacitors by kind, value and
number, trimmers and cores. What would be bought is the measure. Sets with values on hand are tried, those
that buy the fewest pieces first, and the first kind of set is taken whose result is hardly worse: a low-
pass refitted around them (26 dB of return loss, a decibel of its harmonics), a band-pass with its tanks
tuned anew (0.1 dB in the fit) and trimmers that reach as far as they must (`band_pass/trimmers.py`), a
ladder (0.1 dB of ripple and of loss by reflection, `ladder_rounding.py`), a power amplifier's L or pi with
its coil wound to them (power and current), an audio stage's corners (`audio/on_hand.py`), a crystal
oscillator's divider with its current found anew (`crystal_oscillator/on_hand.py`), a modulator's balance
(`mixers/on_hand.py`), and what couples and blocks in mixers, oscillators and supply. In the VFO whatever
the trimmer and the tuning still make up for is taken. A power amplifier's transformers are wound on its
cores (`power_amplifier/match.py`); which core a coil is wound on is found with it in `rig/wound`.
Transistors, diodes and other cores are findings with edits (`rig/rules/bench`), the read-out's helper is
chosen in `rig/frequencies.py`. Each stage counts its own pieces; what several stages want of one drawer the
parts list tells, in the order of the path. A part that is not one piece has `PartRow.pieces` and
`trimmer_f`.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cached_property
from itertools import islice, product
from math import log
from typing import NamedTuple, TypeVar

from core.model.values.notation import significant
from core.record import record
from core.trade.series import FURTHEST

#: So many of the values on hand nearest to what is wanted are tried for a capacitor, and so many sets of as
#: many bought.
_NEAREST, _MOST_SETS = 3, 9
#: A capacitor that couples or blocks may be so many times as large as is wanted (common practice, no source);
#: and a value as near to another as this is the same.
AMPLE, _SAME = 3.0, 0.005


K = TypeVar("K")


class Piece(NamedTuple):
    """Capacitors on hand of one type (as in the table of coefficients) and value [F], and how many."""

    type: str
    value_f: float
    many: float


class Trimmer(NamedTuple):
    """Variable capacitors on hand of one range [F], and how many."""

    low_f: float
    high_f: float
    many: int


@record(slots=False)
class Shelf:
    """What a stage takes before anything is bought; empty where all is. Of `cores` names and how many."""

    pieces: tuple[Piece, ...] = ()
    trimmers: tuple[Trimmer, ...] = ()
    cores: tuple[tuple[str, int], ...] = ()

    # Asked for by every cache of a filter, and hundreds of pieces long.
    @cached_property
    def _digest(self) -> int:
        return hash((self.pieces, self.trimmers, self.cores))

    def __hash__(self) -> int:
        return self._digest

    def __bool__(self) -> bool:
        return bool(self.pieces or self.trimmers or self.cores)

    def of(self, *types: str) -> "Shelf":
        """Capacitors of these types, and nothing else."""
        return Shelf(tuple(each for each in self.pieces if each.type in types))

    @cached_property
    def cores_alone(self) -> "Shelf":
        """The cores, and nothing else."""
        return Shelf(cores=self.cores)

    def has_core(self, name: str, pieces: int = 1) -> bool:
        """Whether there are so many cores of a name."""
        return any(core.casefold() == name.casefold() and many >= pieces for core, many in self.cores)

    def without(self, values_f: Iterable[float]) -> "Shelf":
        """What is left once these are taken [F], of whichever types come first."""
        if not self.pieces:
            return self
        taken = Counter(map(_rounded, values_f))
        left = []
        for each in self.pieces:
            gone = min(taken[_rounded(each.value_f)], each.many)
            taken[_rounded(each.value_f)] -= int(gone)
            left.append(each._replace(many=each.many - gone))
        return Shelf(tuple(left), self.trimmers, self.cores)

    @cached_property
    def _counts(self) -> Mapping[float, float]:
        counts: dict[float, float] = {}
        for each in self.pieces:
            if each.many > 0:
                value = _rounded(each.value_f)
                counts[value] = counts.get(value, 0) + each.many
        return counts

    def near(self, value_f: float, pieces: int = 1) -> tuple[float, ...]:
        """Values near `value_f` [F] of which there are so many pieces, the nearest first; those further than
        a factor of FURTHEST never stand in for it.
        """
        off = {each: abs(log(each / value_f)) for each, count in self._counts.items() if count >= pieces}
        near = sorted((miss, each) for each, miss in off.items() if miss <= log(FURTHEST))
        return tuple(each for _, each in near[:_NEAREST])

    def ample(self, wanted_f: float) -> float | None:
        """What a capacitor is made of that couples, blocks or smooths, where more is as good: the smallest on
        hand that is no smaller than `wanted_f` [F] and no larger than AMPLE times it; None for none.
        """
        low, high = (1 - _SAME) * wanted_f, AMPLE * wanted_f
        return next((each for each in sorted(self._counts) if low <= each <= high), None)

    def all_ample(self, wanted_f: Mapping[K, float]) -> dict[K, float]:
        """The same of as many such places at once as there are pieces for, by place; those left out are
        bought.
        """
        left, taken = self, dict[K, float]()
        # The smallest wanted first, of which the smallest do: what is left over does for most of the others.
        for place, farad in sorted(wanted_f.items(), key=lambda each: each[1]):
            found = left.ample(farad)
            if found is not None:
                left, taken[place] = left.without((found,)), found
        return taken

    def between(self, low_f: float, high_f: float) -> tuple[float, ...]:
        """Values from `low_f` to `high_f` [F], ascending."""
        return tuple(sorted(each for each in self._counts if low_f <= each <= high_f))

    def holds(self, values_f: Iterable[float]) -> bool:
        """Whether there are pieces enough for all of these at once [F]."""
        wanted = Counter(map(_rounded, values_f))
        return all(self._counts.get(value, 0) >= count for value, count in wanted.items())


#: What most are designed with.
ALL_BOUGHT = Shelf()


def _rounded(value_f: float) -> float:
    return significant(value_f, 6)


#: Figures of a set of capacitors, each the worse the larger.
Judged = tuple[float, ...]


def first_on_hand(
    wanted_f: Mapping[tuple[str, ...], float],
    bought_f: Mapping[str, float],
    shelf: Shelf,
    judge: Callable[[Mapping[str, float]], Judged],
    worst: Sequence[float],
) -> dict[str, float]:
    """Capacitors of which as few as can be are bought.

    `wanted_f` are the exact values [F] of references that get the same, `bought_f` what would be bought for
    each. Sets with values on hand are judged by what comes of them; of those whose figures are no worse than
    `worst` (none of them zero), the one with the fewest bought counts, and among these the one with the least
    sum of its figures over `worst`. `bought_f` itself where no set will do.
    """
    groups = list(wanted_f)
    choices = [(*shelf.near(wanted_f[group], len(group)), None) for group in groups]
    sets: dict[int, list[tuple[float, tuple[float | None, ...]]]] = {}
    for picked in islice(product(*choices), 4096):
        taken = [(group, value) for group, value in zip(groups, picked, strict=True) if value]
        if taken and shelf.holds(value for group, value in taken for _ in group):
            lacking = sum(map(len, groups)) - sum(len(group) for group, _ in taken)
            off = sum(abs(log(value / wanted_f[group])) for group, value in taken)
            sets.setdefault(lacking, []).append((off, picked))
    for lacking in sorted(sets):
        fit = []
        for _, picked in sorted(sets[lacking], key=lambda each: each[0])[:_MOST_SETS]:
            values_f = dict(bought_f)
            for group, value in zip(groups, picked, strict=True):
                values_f |= dict.fromkeys(group, value) if value else {}
            found = judge(values_f)
            pairs = list(zip(found, worst, strict=True))
            if all(figure <= limit for figure, limit in pairs):
                fit.append((sum(figure / abs(limit) for figure, limit in pairs), values_f))
        if fit:
            return min(fit, key=lambda each: each[0])[1]
    return dict(bought_f)
