"""What an editor shows: one model of the design, and what is looked at beside it."""

from core.model.values.base import Model, Path
from core.record import record


@record
class FormPicture:
    """A model with its place in the design, the band looked at, the names of all bands, and transistors to
    choose from, each by its name in the model and as it is spelled.
    """

    model: Model
    path: Path
    band: str
    bands: tuple[str, ...]
    transistors: tuple[tuple[str, str], ...] = ()

    def inside(self, model: Model, *steps: str | int) -> "FormPicture":
        """The picture of a model that stands inside this one."""
        return FormPicture(model, (*self.path, *steps), self.band, self.bands, self.transistors)
