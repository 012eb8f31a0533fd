"""What every stage of the signal path has: a key, a name, a direction, and whether it is in the path."""

from typing import Literal

from core.model.values.base import Model
from core.model.values.quantities import Name, stated

#: In which direction a stage works; a bilateral stage stands once and works in both.
Direction = Literal["receive", "transmit", "both"]
#: A direction the whole rig can be in.
Way = Literal["receive", "transmit"]


class StageBase(Model):
    """Common fields; each kind of stage adds a literal `kind` and its own fields."""

    id: str = stated(
        ..., "Key", "The stage's key in the file; unique in the project.", pattern=r"^[a-z][a-z0-9_]{0,39}$"
    )
    name: Name = stated(
        ..., "Name", "The stage's name on the signal path and the sheet.", min_length=1, max_length=40
    )
    direction: Direction = stated("both", "Works in", "Receive, transmit, or both (a bilateral stage).")
    in_path: bool = stated(
        True, "In the path", "Switched out, a stage keeps its settings and the signal goes round it."
    )

    def works_in(self, way: Way) -> bool:
        """Whether the signal passes this stage when the rig receives or transmits."""
        return self.in_path and self.direction in (way, "both")
