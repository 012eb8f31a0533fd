"""What every stage of the signal path has: a key, a name, a direction, and whether it is in the path."""

from collections.abc import Mapping
from typing import Literal, NamedTuple, Self

from core.model.values.base import Model, Path
from core.model.values.quantities import Name, stated

#: In which direction a stage works; a bilateral stage stands once and works in both. An amplifier or a pad
#: may stand behind an oscillator instead, on the way to its mixers.
Direction = Literal["receive", "transmit", "both", "vfo", "carrier"]
#: A direction the whole rig can be in.
Way = Literal["receive", "transmit"]


class Member(NamedTuple):
    """What one circuit of a stage is designed from: the whole stage, or its filter at a `place` that is
    switched in on some `bands`; both None for a stage that is the same on every band.
    """

    place: int | None
    asked: Model
    bands: tuple[str, ...] | None

    def path_in(self, stage: str) -> Path:
        """Where in a project it was asked, in the stage of that key."""
        return ("stages", stage, *(() if self.place is None else ("filters", self.place)))


class StageBase(Model):
    """Common fields; each kind of stage adds a literal `kind` and its own fields."""

    id: str = stated(
        ..., "Key", "The stage's key in the file; unique in the project.", pattern=r"^[a-z][a-z0-9_]{0,39}$"
    )
    name: Name = stated(
        ..., "Name", "The stage's name on the signal path and the sheet.", min_length=1, max_length=40
    )
    direction: Direction = stated(
        "both",
        "Works in",
        "Receive, transmit, or both (a bilateral stage); an amplifier or a pad also behind an oscillator.",
    )
    in_path: bool = stated(
        True, "In the path", "Switched out, a stage keeps its settings and the signal goes round it."
    )
    #: A literal with itself as default, by which a file names the kind.
    kind: str

    def works_in(self, way: Way) -> bool:
        """Whether the signal passes this stage when the rig receives or transmits."""
        return self.in_path and self.direction in (way, "both")

    @property
    def members(self) -> tuple[Member, ...]:
        """What is designed of the stage: the stage itself, or each of its filters."""
        return (Member(None, self, None),)

    def with_bands_named(self, names: Mapping[str, str]) -> Self:
        """The stage for a rig whose bands have other names; a band with an empty new name is gone.

        For kinds that switch something in on each band.
        """
        return self

    def with_transistor_named(self, old: str, new: str) -> Self:
        """The stage where the builder's own transistor `old` is called `new`; for kinds that have one."""
        return self
