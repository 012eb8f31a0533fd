"""What an editor shows: one model of the design, and what is looked at beside it."""

from dataclasses import dataclass

from core.model.values.base import Model, Path


@dataclass(frozen=True, slots=True)
class FormPicture:
    """A model with its place in the design, the band looked at, and the names of all bands."""

    model: Model
    path: Path
    band: str
    bands: tuple[str, ...]

    def inside(self, model: Model, *steps: str | int) -> "FormPicture":
        """The picture of a model that stands inside this one."""
        return FormPicture(model, (*self.path, *steps), self.band, self.bands)
