"""The frozen base of every model, and the one way to change a value inside one."""

from typing import TYPE_CHECKING, Any, Self

from pydantic import BaseModel, ConfigDict, ValidationError
from pydantic.fields import FieldInfo

from core.model.values.errors import DesignError
from core.model.values.notation import format_value
from core.model.values.quantities import Unit, unit_of

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

#: Where a value lives inside a model: field names, and inside a sequence an index or the member's key.
Path = tuple[str | int, ...]


class Model(BaseModel):
    """A frozen value that refuses unknown names, NaN and infinity."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, hide_input_in_errors=True)

    @classmethod
    def checked(cls, **fields: Any) -> Self:
        """A model of these fields; `DesignError` with one sentence when they do not make one."""
        try:
            return cls(**fields)
        except ValidationError as error:
            raise DesignError(sentence(error, cls)) from None

    def at(self, path: Path) -> Any:
        """Return the value at `path`; `DesignError` when there is no such place."""
        value: Any = self
        for depth, step in enumerate(path):
            if isinstance(value, tuple):
                value = value[_position(value, step, path[: depth + 1])]
            elif isinstance(value, Model) and isinstance(step, str) and step in type(value).model_fields:
                value = getattr(value, step)
            else:
                raise DesignError(f"There is no {dotted(path)} in this design.")
        return value

    @property
    def idle_fields(self) -> frozenset[str]:
        """Fields that count for nothing with the others as they are, so that nobody is asked for them."""
        return frozenset()

    def edited(self, path: Path, value: Any) -> Self:
        """Return a copy with the value at `path` replaced, validated from the leaf up to the root.

        `model_copy` is not used because it accepts anything. Untouched members keep their identity,
        which is what the caches of the calculators key on. Raises `DesignError` with one sentence.
        """
        step, rest = path[0], path[1:]
        if not isinstance(step, str) or step not in type(self).model_fields:
            raise DesignError(f"There is no {dotted(path)} in this design.")
        new = _replaced(getattr(self, step), rest, value, path) if rest else value
        fields = {name: getattr(self, name) for name in type(self).model_fields}
        try:
            return type(self).model_validate({**fields, step: new})
        except ValidationError as error:
            raise DesignError(sentence(error, type(self))) from None

    def tried(self, path: Path, value: Any) -> Self | None:
        """As `edited`, for advice that tries values: None where they are beyond what the model allows."""
        try:
            return self.edited(path, value)
        except DesignError:
            return None


def _replaced(current: Any, rest: Path, value: Any, path: Path) -> Any:
    if isinstance(current, tuple):
        position = _position(current, rest[0], path)
        member = _replaced(current[position], rest[1:], value, path) if rest[1:] else value
        return (*current[:position], member, *current[position + 1 :])
    if isinstance(current, Model):
        return current.edited(rest, value)
    raise DesignError(f"There is no {dotted(path)} in this design.")


def _position(members: tuple[Any, ...], key: str | int, path: Path) -> int:
    if isinstance(key, int) and -len(members) <= key < len(members):
        return key % len(members)
    for position, member in enumerate(members):
        if key == getattr(member, "id", None) or key == getattr(member, "name", None):
            return position
    raise DesignError(f"There is no {dotted(path)} in this design.")


def dotted(path: Path) -> str:
    """Write a path as a person reads it: `stages.ladder.poles`."""
    return ".".join(str(step) for step in path)


def sentence(error: ValidationError, model: type[BaseModel]) -> str:
    """One sentence for the first thing wrong in `error`, naming the field by its title when known."""
    first = error.errors(include_url=False, include_input=False)[0]
    field = model.model_fields.get(str(first["loc"][0])) if first["loc"] else None
    message = complaint(first, field)
    if not first["loc"]:
        return f"{message}."
    name = first["loc"][-1] if isinstance(first["loc"][-1], str) else dotted(tuple(first["loc"]))
    label = field.title if field is not None and field.title else str(name)
    return f"{label}: {message[:1].lower()}{message[1:]}."


#: What is wrong with a value, by pydantic's name of the error; braces take its numbers.
_COMPLAINTS = {
    "greater_than_equal": "must be at least {ge}",
    "greater_than": "must be more than {gt}",
    "less_than_equal": "must be at most {le}",
    "less_than": "must be less than {lt}",
    "finite_number": "must be a finite number",
    "float_type": "must be a number",
    "float_parsing": "must be a number",
    "int_type": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number",
    "bool_type": "must be true or false",
    "tuple_type": "must be a list",
    "string_type": "must be a text",
    "string_too_long": "must have at most {max_length} letters",
    "string_too_short": "must have at least {min_length} letters",
    "too_long": "must have at most {max_length} entries",
    "too_short": "must have at least {min_length} entries",
    "literal_error": "must be {expected}",
    "missing": "is missing",
    "extra_forbidden": "is not known here",
}


def complaint(error: "ErrorDetails", field: FieldInfo | None = None) -> str:
    """What is wrong with one value, in a builder's words and the unit of its `field`, without a full stop."""
    words = _COMPLAINTS.get(error["type"])
    if words is None:
        return error["msg"].removeprefix("Value error, ").rstrip(".")
    unit = None if field is None or error["type"] in ("too_long", "too_short") else unit_of(field)
    return words.format(**{key: _limit(value, unit) for key, value in error.get("ctx", {}).items()})


def _limit(value: Any, unit: Unit | None) -> str:
    if not isinstance(value, (int, float)):
        return str(value)
    if unit is None:
        return format_value(value, "", 6)
    if unit.per_cent:
        return format_value(100 * value, "%", 4)
    return format_value(value, unit.symbol, 4, unit.scaled)
