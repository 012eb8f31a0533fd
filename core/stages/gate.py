"""The one gate that figures pass: what is no number becomes a reason, whichever value was the cause.

Limits keep absurd values out of a project, but what is allowed one by one can still be impossible together:
a coil of 200 H beside a capacitor of 1 F, a crystal as built at 3 Hz in a ladder on 9 MHz.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields, is_dataclass
from functools import wraps
from math import isfinite
from typing import Any, ParamSpec, TypeVar

import numpy as np

from core.circuits.ladder import Network
from core.stages.outcome import Unsolved

_P = ParamSpec("_P")
_T = TypeVar("_T")


def gate(what: str) -> Callable[[Callable[_P, _T]], Callable[_P, _T | Unsolved]]:
    """A function whose result is figures that are numbers, or `Unsolved` with `what` cannot be computed.

    Overflows, divisions by zero and singular equations count as well; numpy does not warn of them inside,
    because nothing that came of them gets through. Arrays may hold an infinity (the loss at a pole), but no
    NaN; single figures neither; parts of a network must be positive.
    """
    refused = Unsolved(
        f"{what} cannot be computed from these values, which do not go together; bring the one changed last "
        "nearer to what is usual."
    )

    def gated(function: Callable[_P, _T]) -> Callable[_P, _T | Unsolved]:
        @wraps(function)
        def guarded(*args: _P.args, **kwargs: _P.kwargs) -> _T | Unsolved:
            try:
                with np.errstate(all="ignore"):
                    found = function(*args, **kwargs)
            except (ArithmeticError, np.linalg.LinAlgError):
                return refused
            return found if is_sound(found) else refused

        return guarded

    return gated


def is_sound(found: Any) -> bool:
    """Whether every figure in a result is a number (see `gate`), however deep it lies."""
    if found is None or isinstance(found, str):
        return True
    if isinstance(found, float):
        return isfinite(found)
    if isinstance(found, np.ndarray):
        return not bool(np.isnan(found).any())
    if isinstance(found, Network):
        return all(isfinite(part.value) and part.value > 0 for part in found.parts)
    if isinstance(found, tuple):
        return _all_sound(found)
    if isinstance(found, Mapping):
        return _all_sound(found.values())
    kind = type(found)
    if kind not in _FIELD_NAMES:
        # Models and whole numbers have none and count as sound: the one are checked, the other always are.
        _FIELD_NAMES[kind] = tuple(field.name for field in fields(kind)) if is_dataclass(kind) else ()
    return _all_sound([getattr(found, name) for name in _FIELD_NAMES[kind]])


def _all_sound(found: Iterable[Any]) -> bool:
    # Most of what a result holds is text or a figure: a call for each would take longer than the look.
    for each in found:
        kind = type(each)
        if kind is float:
            if not isfinite(each):
                return False
        elif kind is not str and not is_sound(each):
            return False
    return True


#: Fields by type, as asking a dataclass takes longer than looking at them.
_FIELD_NAMES: dict[type, tuple[str, ...]] = {}
