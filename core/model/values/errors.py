"""The errors a user can meet; every message is one sentence: what, where, what to do."""

from core.model.values.wording import shortened, visible

#: No sentence is longer; what makes one longer is a text out of a file.
_LONGEST = 500


class CopperError(ValueError):
    """Something the builder gave cannot be used; the text of the error is meant for their eyes."""

    def __init__(self, sentence: str) -> None:
        """`sentence` may quote a file; it comes out as one line of a length that is read."""
        super().__init__(shortened(visible(sentence), _LONGEST))


class DesignError(CopperError):
    """A value or a combination of values that cannot be part of a design."""


class FileError(CopperError):
    """A file that cannot be read or written as asked."""
