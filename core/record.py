"""Frozen records: dataclasses that cost a start next to nothing.

A start imports some two hundred classes of results and makes instances of a few dozen. `dataclasses` compiles
six methods for each of them, a tenth of a second in all; here equality, hash and text are the same few lines
for every class, and `__init__` is compiled when somebody makes the first instance.
"""

from collections.abc import Callable
from dataclasses import MISSING, FrozenInstanceError, dataclass, field, fields
from operator import attrgetter
from typing import Any, NoReturn, dataclass_transform

_Method = Callable[..., Any]


@dataclass_transform(frozen_default=True, field_specifiers=(field,))
def record(
    cls: type[Any] | None = None, /, *, eq: bool = True, kw_only: bool = False, slots: bool = True
) -> Any:
    """Make a class of annotated fields a frozen dataclass, with slots unless it keeps what it has computed.

    `fields`, `replace` and defaults are those of `dataclasses`. Equal are instances of one class with equal
    fields; with `eq` off each is equal to itself alone.
    """

    def made(bare: type[Any]) -> type[Any]:
        # Without a text of its own a dataclass would be given its signature, which takes long to find.
        bare.__doc__ = bare.__doc__ or bare.__name__
        own = frozenset(vars(bare))
        cls = dataclass(init=False, repr=False, eq=False, kw_only=kw_only, slots=slots)(bare)
        names = tuple(each.name for each in fields(cls))
        methods = {"__init__": _first_init(cls), "__repr__": _text(names)}
        if eq:
            methods["__eq__"], methods["__hash__"] = _compared(names)
        for name, method in methods.items():
            if name not in own:
                setattr(cls, name, method)
        cls.__setattr__, cls.__delattr__ = _kept, _kept  # type: ignore[assignment]
        return cls

    return made if cls is None else made(cls)


def _kept(self: object, name: str, *value: object) -> NoReturn:
    raise FrozenInstanceError(f"a {type(self).__name__} stays as it was made; {name} cannot be changed")


def _first_init(cls: type[Any]) -> _Method:
    def first(self: Any, *args: Any, **kwargs: Any) -> None:
        cls.__init__ = init = _init(cls)
        init(self, *args, **kwargs)

    return first


def _text(names: tuple[str, ...]) -> _Method:
    def text(self: Any) -> str:
        told = ", ".join(f"{name}={getattr(self, name)!r}" for name in names)
        return f"{type(self).__qualname__}({told})"

    return text


def _compared(names: tuple[str, ...]) -> tuple[_Method, _Method]:
    """Equality and hash."""
    values: Callable[[Any], Any] = attrgetter(*names) if names else lambda self: ()

    def equal(self: Any, other: Any) -> Any:
        if other.__class__ is self.__class__:
            return self is other or values(self) == values(other)
        return NotImplemented

    def hashed(self: Any) -> int:
        return hash(values(self))

    return equal, hashed


def _init(cls: type[Any]) -> _Method:
    """The method that fills the fields, as `dataclasses` would write it."""
    known: dict[str, Any] = {"_set": object.__setattr__, "_none": MISSING}
    places: list[str] = []
    keywords: list[str] = []
    lines = []
    for each in fields(cls):
        value = each.name
        if each.default is not MISSING:
            known[f"_of_{each.name}"] = each.default
            written = f"{each.name}=_of_{each.name}"
        elif each.default_factory is not MISSING:
            known[f"_of_{each.name}"] = each.default_factory
            written, value = f"{each.name}=_none", f"_of_{each.name}() if {value} is _none else {value}"
        else:
            written = each.name
        (keywords if each.kw_only else places).append(written)
        lines.append(f"    _set(self, {each.name!r}, {value})")
    parameters = ["self", *places, *(["*", *keywords] if keywords else [])]
    source = "\n".join([f"def __init__({', '.join(parameters)}):", *lines, "    pass"])
    exec(source, known)
    made: _Method = known["__init__"]
    made.__qualname__ = f"{cls.__qualname__}.__init__"
    return made
