"""What is left of the junk box while a parts list is written."""

import re

from core.model.notebook.junk_box import (
    FILTER_TYPES,
    CapacitorOnHand,
    CoreOnHand,
    CrystalOnHand,
    DiodeOnHand,
    JunkBox,
    RelayOnHand,
    TransistorOnHand,
    VariableOnHand,
)
from core.record import record
from core.stages.on_hand import AMPLE
from core.stages.outcome import PartRow
from core.trade.temperature import Coefficient

#: A value on hand this near to the one wanted is it [-]; and a crystal so near, as what is written on one is
#: not its series resonance, which lies up to some hundred ppm below.
_SAME, _SAME_CRYSTAL = 0.005, 1e-3
#: A tuning capacitor as near to the one that the dial was worked out for is it [-]; a choice.
_SAME_VARIABLE = 0.1


_NUMBERS = {"one": 1, "two": 2, "three": 3, "four": 4}
#: How many contacts a text names first; volts and amperes are none.
_CONTACTS = re.compile(rf"\b({'|'.join(_NUMBERS)}|\d+)(?!\d|\s*[va]\b)", re.IGNORECASE)


@record
class Taken:
    """Of a part's pieces how many are on hand, and how many must be bought; `instead` are larger capacitors
    that do for the value that is told [F], and `trimmer` whether the one that sets it is on hand.
    """

    on_hand: int
    to_buy: int
    instead: tuple[float, ...] = ()
    trimmer: bool = False


class Stock:
    """The parts of a junk box, which get fewer as they are taken."""

    def __init__(self, box: JunkBox) -> None:
        self._left = [each.count for each in box.parts]
        self._box = box

    @property
    def taken(self) -> tuple[int, ...]:
        """How many of each part of the box are taken."""
        return tuple(each.count - left for each, left in zip(self._box.parts, self._left, strict=True))

    def taken_for(
        self,
        part: PartRow,
        type: Coefficient | None,
        core: str = "",
        *,
        measured: bool = False,
        ample: bool = False,
    ) -> Taken:
        """How many of the pieces of a part are on hand, which are then taken, and how many must be bought.

        `type` is what its coefficient must be, None where any kind will do, `core` what it is wound on;
        `measured` crystals are on hand. Of a capacitor that `ample` ones will do for, up to so many times
        larger ones are taken, too. What is built wants nothing any more.
        """
        if part.as_built is not None:
            return Taken(0, 0)
        if measured:
            return Taken(1, 0)
        wanted: tuple[float, ...] = (part.fitted,)
        if part.kind == "capacitor":
            wanted = part.soldered
        found, instead = 0, []
        for value in wanted:
            if self._take(part, value, type, core):
                found += 1
            elif ample and (larger := self._larger(value)) is not None:
                found += self._take(part, larger, type, core)
                instead.append(larger)
        trimmer = part.trimmer_f is not None and self._trimmer(*part.trimmer_f)
        return Taken(found, len(wanted) - found, tuple(instead), trimmer)

    def _trimmer(self, low_f: float, high_f: float) -> bool:
        """Whether there is a trimmer that covers a range [F], which is then taken: the smallest that does."""
        fits = [
            (each.high_f, n)
            for n, each in enumerate(self._box.parts)
            if isinstance(each, VariableOnHand)
            and self._left[n]
            and each.low_f <= low_f * (1 + _SAME)
            and each.high_f >= high_f * (1 - _SAME)
        ]
        if not fits:
            return False
        self._left[min(fits)[1]] -= 1
        return True

    def _larger(self, wanted_f: float) -> float | None:
        """The smallest capacitor left that is larger than `wanted_f` [F] and not too large for it."""
        left = (
            each.capacitance_f
            for each, count in zip(self._box.parts, self._left, strict=True)
            if count and isinstance(each, CapacitorOnHand)
        )
        fits = [each for each in (*left, *self._box.capacitors_f) if wanted_f < each <= AMPLE * wanted_f]
        return min(fits, default=None)

    def _take(self, part: PartRow, value: float, type: Coefficient | None, core: str) -> bool:
        if self._endless(part, value, type):
            return True
        for n, each in enumerate(self._box.parts):
            if not self._left[n]:
                continue
            match each:
                case CapacitorOnHand():
                    same = part.kind == "capacitor" and _near(each.capacitance_f, value, _SAME)
                    same = same and _does(each.type, type)
                case CrystalOnHand():
                    same = part.kind == "crystal" and _near(each.frequency_hz, value, _SAME_CRYSTAL)
                case CoreOnHand():
                    same = bool(core) and each.core.casefold() == core.casefold()
                case TransistorOnHand() | DiodeOnHand():
                    same = part.kind == each.kind
                    same = same and each.device.strip().casefold() == part.type.casefold()
                case VariableOnHand():
                    same = part.role == "tuning" and _near(each.high_f, part.fitted, _SAME_VARIABLE)
                case RelayOnHand():
                    same = part.kind == "relay" and _near(each.coil_v, part.fitted, _SAME)
                    same = same and _switches(each.contacts, part.type)
                case _:
                    same = False
            if same:
                self._left[n] -= 1
                return True
        return False

    def _endless(self, part: PartRow, value: float, type: Coefficient | None) -> bool:
        """Whether it is one of those of which there are as many as wanted."""
        if part.kind == "crystal":
            return any(_near(each, value, _SAME_CRYSTAL) for each in self._box.crystals_hz)
        return (
            part.kind == "capacitor"
            and _does("c0g", type)
            and any(_near(each, value, _SAME) for each in self._box.capacitors_f)
        )


def _switches(contacts: str, wanted: str) -> bool:
    """Whether a relay on hand has contacts enough: as many as are named first of it, one where none are."""
    return _contacts(contacts, 1) >= _contacts(wanted, 0)


def _contacts(text: str, unsaid: int) -> int:
    found = _CONTACTS.search(text)
    return unsaid if found is None else _NUMBERS.get(found[1].lower()) or int(found[1])


def _near(one: float, other: float, within: float) -> bool:
    return abs(one / other - 1) <= within


def _does(on_hand: str, wanted: Coefficient | None) -> bool:
    """Whether a type of capacitor on hand will do; where C0G is wanted, its kin will too."""
    if wanted is None or on_hand == wanted.type:
        return True
    return wanted.type == "c0g" and on_hand in FILTER_TYPES
