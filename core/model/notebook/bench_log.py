"""The bench log: what was read where and when, and photographs of it."""

from collections.abc import Mapping
from typing import Annotated, Literal, Self

from annotated_types import Ge, Le

from core.model.values.base import Model
from core.model.values.quantities import Name, stated

#: Readings and photographs of a rig.
MOST_READINGS, MOST_PHOTOGRAPHS = 2000, 100
#: No instrument shows more.
_Read = Annotated[float, Ge(-1e15), Le(1e15)]
_Within = Annotated[float, Ge(0), Le(1e15)]
#: What a reading is about.
About = Literal["figure", "point", "part"]


class LogReading(Model):
    """One reading, bound to a declared figure, a test point or a part.

    `stage`, `key`, `way` and `band` say which: the stage's key (`vfo`, `carrier`, `supply` and such, empty
    for the whole rig), the figure's key, the point's place or the part's role and number, and direction and
    band where it makes a difference.
    """

    date: Name = stated("", "Date", "Day and time of the reading.", "2026-11-26 18:40", max_length=40)
    about: About = stated(..., "About", "What was read: a figure, a test point or a part.")
    stage: str = stated("", "Stage", "Key of the stage, or of what it was read of.", max_length=40)
    key: Name = stated(..., "Read", "Which figure, place or part of it.", min_length=1, max_length=80)
    way: Literal["", "receive", "transmit"] = stated("", "Direction", "Empty: the same in both.")
    band: Name = stated("", "Band", "Empty: the same on all.", max_length=16)
    value: _Read = stated(..., "Reading", "What was read, in the unit.")
    unit: Name = stated("", "Unit", "In what it was read.", max_length=16)
    plus_minus: _Within | None = stated(
        None, "Tolerance", "How far it may be off to either side, in the same unit; empty: as is usual."
    )
    note: str = stated("", "Note", "What was done.", max_length=2000)

    @property
    def place(self) -> tuple[str, str, str, str, str]:
        """What it was read of."""
        return self.about, self.stage, self.key, self.way, self.band

    def with_bands_named(self, names: Mapping[str, str]) -> Self | None:
        """The reading for a rig whose bands have other names; None where its band is gone."""
        if self.about == "part" and self.key.partition(":")[2] in names:
            # A part that is switched in on a band goes by its name.
            role, _, band = self.key.partition(":")
            return self.edited(("key",), f"{role}:{names[band]}") if names[band] else None
        if self.band not in names:
            return self
        return self.edited(("band",), names[self.band]) if names[self.band] else None


class Photograph(Model):
    """A photograph beside the project's file, by its name there and the digest of what it holds."""

    # The length by itself: a pattern that counts is compiled letter by letter, which took a tenth of a start.
    name: Name = stated(
        ..., "File", "Its name in the folder beside the project.", pattern=r"^[\w .()-]+$", max_length=120
    )
    digest: str = stated(..., "Digest", "SHA-256 of the file.", pattern=r"^[0-9a-f]{64}$")
    stage: str = stated("", "Stage", "Key of the stage that it shows; empty: of the rig.", max_length=40)
    date: Name = stated("", "Date", "Day and time.", "2026-11-26 18:40", max_length=40)
    caption: Name = stated("", "Caption", "What it shows.", max_length=200)
