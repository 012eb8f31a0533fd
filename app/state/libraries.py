"""Slow libraries, imported one by one while the window rests, so that no look at a page waits for all."""

import sys
from importlib import import_module

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QWidget

#: What the choice of crystals' places imports, in parts of some 50 ms.
PLACING = (
    "numpy.f2py",
    "numpy.ma",
    "numpy.random",
    "numpy.testing",
    "scipy.special",
    "scipy.fft",
    "scipy.linalg",
    "scipy.sparse",
    "scipy.spatial",
    "scipy.optimize",
)
#: What a tuning capacitor's table, the build sheet and the schematics import besides.
_LATER = (*PLACING, "scipy.interpolate", "jinja2", "schemdraw.elements")
#: So long the hand may have the window between two imports, milliseconds.
_BETWEEN_MS = 30


def load_next(modules: tuple[str, ...] = _LATER) -> bool:
    """Import the first of some libraries that is not loaded; False when there is none.

    Not in a thread: an import beside Qt's own turns crashes.
    """
    lacking = next((each for each in modules if each not in sys.modules), None)
    if lacking is not None:
        import_module(lacking)
    return lacking is not None


def load_the_rest(window: QWidget) -> None:
    """Import what pages need that are looked at later, one library after the other while the window rests."""
    if load_next():
        QTimer.singleShot(_BETWEEN_MS, window, lambda: load_the_rest(window))
