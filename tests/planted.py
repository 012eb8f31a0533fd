"""A pickle that leaves a mark when something opens it, harmless and in the test's own folder."""

import pickle
from pathlib import Path


class _Touches:
    def __init__(self, mark: Path) -> None:
        self._mark = mark

    def __reduce__(self):
        return Path.touch, (self._mark,)


def plant(file: Path, mark: Path) -> None:
    """Make `file` a pickle that creates `mark` when it is run."""
    file.write_bytes(pickle.dumps(_Touches(mark)))
