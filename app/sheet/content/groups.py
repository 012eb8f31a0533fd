"""What of a sheet can be chosen; imported also where no sheet is made."""

from collections.abc import Iterable

#: What can be chosen, by the word for it, in the order of the pages; the title block stands always.
GROUPS: dict[str, str] = {
    "plan": "Frequency plan and carriers",
    "levels": "Block diagram and levels",
    "receiver": "Receiver in detail",
    "supply": "Switching, supply and fuse",
    "work": "Order of work",
    "stages": "Stages: drawings, parts, coils, test points",
    "vfo": "VFO and read-out",
    "alignment": "Alignment",
    "checks": "Checks before an antenna is connected",
    "parts": "Parts of the whole rig",
    "photographs": "Photographs",
    "findings": "Findings",
}
ALL: tuple[str, ...] = tuple(GROUPS)


def but(left_out: Iterable[str]) -> tuple[str, ...]:
    """All groups but those left out; words that are no group are passed over."""
    gone = set(left_out)
    return tuple(group for group in ALL if group not in gone)
