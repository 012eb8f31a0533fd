"""A ladder as it is asked for: all that its design hangs on, in one value that caches are keyed by."""

from dataclasses import replace
from typing import Any

from core.model.stages.filters import LadderFilter
from core.model.values.notation import significant
from core.record import record
from core.stages.filters.ladder_meshes import stepped
from core.stages.on_hand import ALL_BOUGHT, Shelf

#: A field of a ladder or its crystals, and its new value.
Change = tuple[tuple[str, ...], Any]


@record
class AskedLadder:
    """A ladder for an IF of `if_hz` [Hz]; `SolvedLadder` is what comes of it.

    `on_hand` are the capacitors of the junk box [F], for a ladder that is made of them; those of the `shelf`
    are taken before any of a series is bought.
    """

    ladder: LadderFilter
    if_hz: float
    on_hand: tuple[float, ...] = ()
    shelf: Shelf = ALL_BOUGHT

    @property
    def fs_hz(self) -> float:
        """Series resonance of the crystals that it is designed for [Hz]."""
        crystal = self.ladder.crystal
        return self.if_hz + (0.0 if crystal is None else crystal.offset_hz)

    @property
    def bare(self) -> "AskedLadder":
        """The same without its as-built values."""
        return self.edited(("as_built",), ())

    @property
    def for_choices(self) -> "AskedLadder":
        """The same as far as choices of its parts hang on it: bare, its crystals in steps of 0.1 %, so that a
        small turn of the IF need not repeat them. Only for crystals above zero hertz.
        """
        return replace(self.bare, if_hz=self.if_hz + stepped(self.fs_hz, 1e-3) - self.fs_hz)

    @property
    def for_advice(self) -> "AskedLadder":
        """The same at its IF to three digits: enough for advice, and a turn of it then repeats little."""
        return replace(self, if_hz=significant(self.if_hz, 3))

    def edited(self, path: tuple[str, ...], value: Any) -> "AskedLadder":
        """The same with the ladder's value at `path` replaced, as `LadderFilter.edited` does."""
        return replace(self, ladder=self.ladder.edited(path, value))

    def tried(self, *changes: Change) -> "AskedLadder | None":
        """The same with these changes; None where one is beyond what the model allows."""
        changed: LadderFilter | None = self.ladder
        for change in changes:
            changed = None if changed is None else changed.tried(*change)
        return None if changed is None else replace(self, ladder=changed)
