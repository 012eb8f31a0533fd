"""What a builder has put on its board or panel by hand."""

import re
from collections.abc import Mapping
from typing import Annotated, Literal, Self

from annotated_types import Ge, Le
from pydantic import Field, model_validator

from core.model.values.base import Model
from core.model.values.quantities import Name, Unit, stated

#: Boards of a rig, and things on one, that can have a place of their own.
MOST_BOARDS, MOST_PLACES = 200, 400
#: No board and no panel is larger than this to either side of where it begins, nor smaller [m].
BoardMetre = Annotated[float, Ge(-2), Le(2), Unit("m", scaled=True)]
PanelMetre = Annotated[float, Ge(0.02), Le(1), Unit("m", scaled=True)]
#: Where on a panel something is; also off it, which is told.
PanelPlace = Annotated[float, Ge(-1), Le(2), Unit("m", scaled=True)]
#: Key of a part or of the lead that an island is known by: role and number, as of values as built.
PlaceKey = Annotated[Name, Field(min_length=1, max_length=80)]


class Placed(Model):
    """Where one part or island of a board was put."""

    key: PlaceKey = stated(..., "What", "Part by role and number, or island by one of its leads.")
    x_m: BoardMetre = stated(..., "Across", "Its middle, to the right of where the signal comes in.")
    y_m: BoardMetre = stated(..., "Down", "Its middle, below the line of the signal.")
    turned: int = stated(0, "Turned", "Quarter turns clockwise.", "0 to 3", ge=0, le=3)


class Packaged(Model):
    """In which package one part of a board comes."""

    key: PlaceKey = stated(..., "What", "Part by role and number.")
    package: Name = stated(..., "Package", "Word of the table of packages.", min_length=1, max_length=60)


class Board(Model):
    """What was put by hand on the board of a stage, and packages chosen for its parts; all else lies where it
    is placed automatically, in the package that such parts usually have.
    """

    stage: str = stated(..., "Stage", "Key of the stage, `vfo` or `supply`.", max_length=40)
    band: Name = stated("", "Band", "A band that the filter serves; empty: the same on all.", max_length=16)
    places: tuple[Placed, ...] = stated((), "Places", "Parts and islands.", max_length=MOST_PLACES)

    packages: tuple[Packaged, ...] = stated((), "Packages", "Of single parts.", max_length=MOST_PLACES)

    @model_validator(mode="after")
    def _once(self) -> Self:
        for each, what in ((self.places, "places"), (self.packages, "packages")):
            if len({one.key for one in each}) < len(each):
                raise ValueError(f"a part has two {what} on one board; leave one")
        return self

    def with_bands_named(self, names: Mapping[str, str]) -> Self:
        """The board for a rig whose bands have other names: that of a filter by its band, and parts that are
        switched in on a band by theirs.
        """
        moved = self.edited(("band",), names[self.band]) if names.get(self.band) else self
        for field in ("places", "packages"):
            held = getattr(self, field)
            renamed = tuple(each.edited(("key",), _of_band(each.key, names)) for each in held)
            if renamed != held:
                moved = moved.edited((field,), renamed)
        return moved

    def with_package_named(self, old: str, new: str) -> Self:
        """The board where a builder's own package has another name."""
        if all(each.package != old for each in self.packages):
            return self
        renamed = (each.edited(("package",), new) if each.package == old else each for each in self.packages)
        return self.edited(("packages",), tuple(renamed))


def _of_band(key: str, names: Mapping[str, str]) -> str:
    """The key of a part, a piece of it, or an island by its lead, where a band has another name."""
    found = re.fullmatch(r"(?P<role>\w+):(?P<band>[^/.]+)(?P<rest>[/.].*)?", key)
    if found is None or not names.get(found["band"]):
        return key
    return f"{found['role']}:{names[found['band']]}{found['rest'] or ''}"


class Fitting(Model):
    """One thing on a panel, by its middle from the panel's upper left corner."""

    kind: PlaceKey = stated(..., "Kind", "Word of the table of fittings.")
    label: Name = stated("", "Label", "What is written at it.", max_length=24)
    x_m: PanelPlace = stated(..., "Across", "From the left edge.")
    y_m: PanelPlace = stated(..., "Down", "From the upper edge.")


class Panel(Model):
    """A front or rear panel with what is mounted on it."""

    side: Literal["front", "rear"] = stated("front", "Panel", "Which side of the case.")
    width_m: PanelMetre = stated(0.24, "Width", "Of the panel.", "150 to 300 mm")
    height_m: PanelMetre = stated(0.09, "Height", "Of the panel.", "50 to 120 mm")
    fittings: tuple[Fitting, ...] = stated((), "Fittings", "What is mounted.", max_length=60)
