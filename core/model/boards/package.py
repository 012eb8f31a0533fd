"""Packages that a builder has and the table lacks."""

from typing import Annotated, Literal

from annotated_types import Ge, Le

from core.model.values.base import Model
from core.model.values.quantities import Name, Unit, stated

#: Bodies of parts and distances of their leads [m].
BodyMetre = Annotated[float, Ge(0.5e-3), Le(0.2), Unit("m", scaled=True)]


class OwnPackage(Model):
    """A body with two leads, by what a ruler tells; measured in metres."""

    name: Name = stated(
        "My package", "Name", "What it is called where packages are chosen.", min_length=1, max_length=60
    )
    outline: Literal["box", "round"] = stated("box", "Outline", "What is seen of it from above.")
    length_m: BodyMetre = stated(10e-3, "Length", "Along the line of its leads.", "5 to 20 mm")
    width_m: BodyMetre = stated(5e-3, "Width", "Across that line.", "2 to 10 mm")
    height_m: BodyMetre = stated(8e-3, "Height", "Above the board.", "5 to 15 mm")
    pitch_m: BodyMetre = stated(5e-3, "Lead spacing", "From lead to lead.", "2.5, 5, 7.5 mm")
