"""What a fit to a measured curve means at the bench: which part is off, and what to do about it."""

from collections.abc import Mapping
from math import sqrt

from core.model.values.notation import format_value
from core.stages.built.curve_subject import CurveFit, FittedPart
from core.stages.wound import Wound

#: More suspects than this name none.
_FEW = 4
#: A capacitor as far off as this is another one [-].
_WRONG = 0.5
#: Amounts no further apart than this are told as one [-].
_ALIKE = 1.25
#: A Q further off than this is told [-].
_Q_OFF = 0.15


def verdict(found: CurveFit, wound: Mapping[str, Wound]) -> str:
    """Sentences: what is off and what mends it, and what the curve does not tell; `wound` are coils by
    reference.
    """
    off, suspects = found.off, found.alone
    told = []
    if found.as_taken:
        told.append("No part is off as far as this curve tells.")
    elif 1 < len(suspects) <= _FEW:
        likely = sorted(suspects, key=lambda each: found.parts.index(found.of(each.row.ref)))
        told.append(
            f"{_either(likely)}, and this curve does not determine which; {_more(found)}measure one of them "
            "by itself."
        )
    elif off:
        told += [
            f"{each.row.ref} is {_amount(each)}; {remedy(each, wound.get(each.row.ref))}." for each in off
        ]
    else:
        told.append(
            "Something is off and this curve does not determine which part; "
            f"{_more(found)}measure parts by themselves."
        )
    unknown = [each for each in found.parts if not each.determined]
    if unknown and (found.as_taken or len(off) > 1):
        which = (
            _listed(unknown, "and")
            if len(unknown) <= _FEW
            else f"{len(unknown)} of its {len(found.parts)} parts"
        )
        told.append(f"It does not determine {which} within half their tolerance.")
    if abs(found.q_factor - 1) > max(_Q_OFF, found.q_plus_minus):
        crystals = any(each.row.kind == "crystal" for each in found.parts)
        what = "crystals'" if crystals else "coils'"
        told.append(f"The {what} Q is about {found.q_factor:.2g} times what was taken.")
    return " ".join(told)


def remedy(part: FittedPart, wound: Wound | None = None) -> str:
    """What to do about a part that is off, as a clause."""
    low = part.off < 0
    if part.row.kind == "crystal":
        return "exchange it"
    if part.row.kind == "capacitor":
        if part.trimmed:
            return f"turn its trimmer {'up' if low else 'down'}"
        if abs(part.off) > _WRONG:
            return f"it should have {format_value(part.taken, 'F', 2)}: exchange it"
        short = format_value(part.taken - part.value, "F", 2)
        return f"put {short} across it" if low else "exchange it"
    if part.row.kind == "resistor":
        return f"measure it: it should have {format_value(part.taken, 'Ω', 3)}"
    if part.row.kind == "coupling":
        return f"move the two coils {'nearer to' if low else 'further from'} each other"
    if wound is None:
        return "squeeze its turns together or wind one more" if low else "spread its turns or take one off"
    wanted = part.taken / part.value
    spread, squeezed = (each / wound.inductance_h for each in wound.range_h)
    if spread <= wanted <= squeezed:
        return "squeeze its turns together" if low else "spread its turns"
    turns = max(1, abs(round(wound.turns * sqrt(wanted)) - wound.turns))
    count = "one turn" if turns == 1 else f"{turns} turns"
    return f"wind {count} more than its {wound.turns}" if low else f"take {count} off its {wound.turns}"


def _either(likely: list[FittedPart]) -> str:
    """Parts one of which is off, with one amount where it is much the same for all."""
    offs = [each.off for each in likely]
    if min(offs) * max(offs) > 0 and max(map(abs, offs)) < _ALIKE * min(map(abs, offs)):
        return f"{_listed(likely, 'or')} is {_amount(likely[0])}"
    return " or ".join(f"{each.row.ref} is {_amount(each)}" for each in likely)


def _amount(part: FittedPart) -> str:
    way = "low" if part.off < 0 else "high"
    if part.row.kind == "crystal":
        return f"about {format_value(abs(part.off), 'Hz', 2)} {way}"
    return f"about {100 * abs(part.off):.{0 if abs(part.off) > 0.02 else 1}f} % {way}"


def _listed(parts: tuple[FittedPart, ...] | list[FittedPart], joint: str) -> str:
    refs = [each.row.ref for each in parts]
    return refs[0] if len(refs) == 1 else f"{', '.join(refs[:-1])} {joint} {refs[-1]}"


def _more(found: CurveFit) -> str:
    return "" if found.with_phase else "sweep S11 with its phase as well (Touchstone of two ports), or "
