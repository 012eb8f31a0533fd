"""What was worked out of large models, kept by their digest, so that the models themselves can go."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Concatenate, Generic, ParamSpec, Protocol, TypeVar


class Digested(Protocol):
    """A model that knows the digest of all that it holds."""

    @property
    def digest(self) -> str:
        """The same for equal models, another for others."""


_Model = TypeVar("_Model", bound=Digested)
_Rest = ParamSpec("_Rest")
_Result = TypeVar("_Result")


class Kept(Generic[_Model, _Rest, _Result]):
    """A function of a large model and small values that keeps its last `most` results.

    Threads may share it.
    """

    def __init__(self, most: int, function: Callable[Concatenate[_Model, _Rest], _Result]) -> None:
        self._most, self._function = most, function
        self._found: OrderedDict[Hashable, _Result] = OrderedDict()
        self._lock = Lock()

    def __call__(self, model: _Model, *rest: _Rest.args, **none: _Rest.kwargs) -> _Result:
        """The result for a model, made once."""
        key = (model.digest, *rest)
        with self._lock:
            if key in self._found:
                self._found.move_to_end(key)
                return self._found[key]
        result = self._function(model, *rest, **none)
        with self._lock:
            # Of two threads that made the same the first is right, so that there is one object.
            result = self._found.setdefault(key, result)
            if len(self._found) > self._most:
                self._found.popitem(last=False)
        return result

    def cache_clear(self) -> None:
        """Keep nothing any more."""
        with self._lock:
            self._found.clear()

    def knows(self, model: _Model, *rest: _Rest.args, **none: _Rest.kwargs) -> bool:
        """Whether the result for a model is at hand."""
        with self._lock:
            return (model.digest, *rest) in self._found


def kept(
    most: int,
) -> Callable[[Callable[Concatenate[_Model, _Rest], _Result]], Kept[_Model, _Rest, _Result]]:
    """Keep the last `most` results of a function by the digest of its model and its other arguments."""
    return lambda function: Kept(most, function)
