"""What draws one value: the picture is compared whole and painted from alone."""

from typing import Generic, TypeVar

Picture = TypeVar("Picture")


class Drawn(Generic[Picture]):
    """A widget that shows one frozen picture, made by a pure function, and nothing besides.

    So what is on show cannot be old: whatever it is made of is part of the picture.
    """

    _shown: Picture | None = None

    @property
    def shown_picture(self) -> Picture | None:
        """The picture on show; None when there is none yet, or it is to be drawn anew."""
        return self._shown

    def show_picture(self, picture: Picture) -> None:
        """Draw this picture, unless it is on show already."""
        if picture != self._shown:
            # A drawing that breaks off is not the one on show.
            self._shown = None
            self.draw(picture)
            self._shown = picture

    def draw(self, picture: Picture) -> None:
        """Draw a picture that differs from the one on show."""
        raise NotImplementedError

    def forget(self) -> None:
        """Draw the next picture in any case: the colours are others, or drawing failed."""
        self._shown = None
