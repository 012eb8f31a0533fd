"""Capacitors and trimmers on hand for a mixer: what couples, blocks or shorts as well, and a balance that can
still be set either way.
"""

from collections.abc import Iterable, Mapping

from core.model.notebook.junk_box import FILTER_TYPES
from core.model.values.part_names import NAMES
from core.record import record
from core.stages.mixers.board import Key, Slot
from core.stages.on_hand import AMPLE, Shelf

#: Exact and preferred value of a part [SI].
Pair = tuple[float, float]


@record
class Balance:
    """A modulator's trimmer from and to, and the capacitor against it [F]."""

    trimmer_f: Pair
    against_f: float

    @property
    def room_f(self) -> float:
        """How far it can be set either way from where both sides are alike [F]."""
        low, high = self.trimmer_f
        return min(self.against_f - low, high - self.against_f)

    @property
    def span_f(self) -> float:
        """From one end of the trimmer to the other [F]: the more, the coarser it is set."""
        low, high = self.trimmer_f
        return high - low


def coupled(slots: Iterable[Slot], pairs: Mapping[Key, Pair], shelf: Shelf) -> dict[Key, Pair]:
    """Exact and preferred values of a mixer's parts with what is on hand in the place of every capacitor of
    its board that couples, blocks or shorts: more of it is as good.
    """
    wanted = {
        (role, which): pairs[role, which][0]
        for role, which, _ in slots
        if NAMES["mixer"][role].kind == "capacitor" and role not in ("trimmer", "balance_capacitor")
    }
    return {**pairs, **{key: (pairs[key][0], farad) for key, farad in shelf.all_ample(wanted).items()}}


def balanced(bought: Balance, shelf: Shelf) -> Balance:
    """A trimmer and what stands against it of which as few as can be are bought, with as much room either way
    as those of `bought`, hardly coarser, and with hardly more across the windings.
    """
    trimmers = [(each.low_f, each.high_f) for each in shelf.trimmers] + [bought.trimmer_f]
    most_f = AMPLE * bought.against_f
    fixed = [*shelf.of(*FILTER_TYPES).between(bought.room_f, most_f), bought.against_f]
    fit = [
        (int(n == len(trimmers) - 1) + int(m == len(fixed) - 1), made.span_f, made.against_f, made)
        for n, trimmer in enumerate(trimmers)
        for m, farad in enumerate(fixed)
        for made in [Balance(trimmer, farad)]
        if made.room_f >= bought.room_f * (1 - 1e-9) and made.span_f <= AMPLE * bought.span_f
    ]
    return min(fit, key=lambda each: each[:3])[3]
