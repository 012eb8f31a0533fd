"""Edits that were tried on the rig's supply, and how they are told."""

from collections.abc import Callable

from core.rig.analysis import Analysis
from core.rig.findings import Edit
from core.rig.supply.consumers import Feeding, feeding


def mending(
    analysis: Analysis, is_mended: Callable[[Feeding], bool], *edits: Edit, most: int = 2
) -> tuple[Edit, ...]:
    """The first of the edits, tried on the rig, after which all is in order."""
    found = []
    for edit in edits:
        changed = edit.tried_on(analysis.project)
        fed = None if changed is None else feeding(Analysis(changed))
        if fed is not None and is_mended(fed):
            found.append(edit)
        if len(found) == most:
            break
    return tuple(found)


def remedy_of(edits: tuple[Edit, ...], otherwise: str) -> str:
    """What the edits do, as advice; other words where there is none."""
    if not edits:
        return otherwise
    first, *others = (each.label for each in edits)
    return f"{', or '.join([first, *(each[0].lower() + each[1:] for each in others)])}."
