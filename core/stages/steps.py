"""Long searches made in steps, so that whoever waits for one can do something else between two of them."""

from collections import OrderedDict
from collections.abc import Callable, Generator, Hashable
from functools import wraps
from typing import ParamSpec, TypeVar

_P = ParamSpec("_P")
_T = TypeVar("_T")

#: A search: it yields after every step, and returns what it found.
Steps = Generator[None, None, _T]


def finished(steps: Generator[object, None, _T]) -> _T:
    """Take all the steps that are left and return what was found."""
    while True:
        try:
            next(steps)
        except StopIteration as end:
            return end.value  # type: ignore[no-any-return]


def kept(most: int) -> Callable[[Callable[_P, Steps[_T]]], Callable[_P, Steps[_T]]]:
    """A search whose last `most` findings are kept by its arguments, as `lru_cache` does for a function.

    What was found before takes no step again.
    """

    def keeping(search: Callable[_P, Steps[_T]]) -> Callable[_P, Steps[_T]]:
        found: OrderedDict[Hashable, _T] = OrderedDict()

        @wraps(search)
        def steps(*args: _P.args, **kwargs: _P.kwargs) -> Steps[_T]:
            key = (args, tuple(sorted(kwargs.items())))
            if key in found:
                found.move_to_end(key)
                return found[key]
            result = found[key] = yield from search(*args, **kwargs)
            if len(found) > most:
                found.popitem(last=False)
            return result

        steps.cache_clear = found.clear  # type: ignore[attr-defined]
        return steps

    return keeping
