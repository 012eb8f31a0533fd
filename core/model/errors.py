"""The errors a user can meet; every message is one sentence: what, where, what to do."""


class CopperError(ValueError):
    """Something the builder gave cannot be used; the text of the error is meant for their eyes."""


class DesignError(CopperError):
    """A value or a combination of values that cannot be part of a design."""


class FileError(CopperError):
    """A file that cannot be read or written as asked."""
