"""What an editor shows: one model of the design, and what is looked at beside it."""

from dataclasses import replace

from core.model.values.base import Model, Path
from core.record import record


@record(kw_only=True)
class FormPicture:
    """A model with its place in the design, the band looked at, the names of all bands, and transistors to
    choose from, each by its name in the model and as it is spelled; likewise `fed`, all that can be fed.
    """

    model: Model
    path: Path
    band: str
    bands: tuple[str, ...]
    transistors: tuple[tuple[str, str], ...] = ()
    fed: tuple[tuple[str, str], ...] = ()

    def inside(self, model: Model, *steps: str | int) -> "FormPicture":
        """The picture of a model that stands inside this one."""
        return replace(self, model=model, path=(*self.path, *steps))
