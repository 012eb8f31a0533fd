"""What draws one value: the picture is compared whole and painted from alone."""

from typing import Generic, TypeVar

Picture = TypeVar("Picture")


class Drawn(Generic[Picture]):
    """A widget that shows one frozen picture, made by a pure function, and nothing besides.

    So what is on show cannot be old: whatever it is made of is part of the picture.
    """

    #: The picture drawn last, or being drawn.
    _drawn: Picture | None = None
    #: Whether it is to be drawn anew in any case.
    _due = True

    @property
    def picture(self) -> Picture:
        """The picture drawn last, or being drawn."""
        assert self._drawn is not None, "nothing has been shown yet"
        return self._drawn

    @property
    def shown_picture(self) -> Picture | None:
        """The picture on show; None when there is none yet, or it is to be drawn anew."""
        return None if self._due else self._drawn

    def show_picture(self, picture: Picture) -> None:
        """Draw this picture, unless it is on show already."""
        if self._due or picture != self._drawn:
            # A drawing that breaks off is not the one on show.
            self._due, self._drawn = True, picture
            self.draw(picture)
            self._due = False

    def draw(self, picture: Picture) -> None:
        """Draw a picture that differs from the one on show; each class that is drawn says how.

        Not abstract, as a widget has a metaclass of its own.
        """
        raise NotImplementedError

    def forget(self) -> None:
        """Draw the next picture in any case: the colours are others, or drawing failed."""
        self._due = True
