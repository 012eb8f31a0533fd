"""Project files: read, migrate, check, and write without ever losing the previous version.

Format log, a line a version:
1  the first: bands, station, oscillators, speaker, microphone, junk box, stages.
2  more that may be left out: tank of the VFO, read-out, measured crystals, scatter, capacitors on hand.
3  values as built by role and number of the part (`coupling:3`) instead of its reference (`C3`).
4  readings of crystals and the tuning capacitor's measured table as values with units, instead of as text.

A change of the format is a step in `MIGRATIONS`, a line in this log, and an old file in the tests. A field
added with a default is none.
"""

import json
import re
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from core.model.disk import LARGEST_BYTES, keep, read_regular, read_text, write_whole
from core.model.old_references import with_roles
from core.model.old_tables import with_values
from core.model.project import Project
from core.model.stages.kinds import STAGES
from core.model.stages.stage import StageBase
from core.model.values.base import complaint
from core.model.values.errors import FileError
from core.model.values.wording import shortened

SCHEMA_VERSION = 4
#: From-version to the step that brings a plain dictionary to the next version; never edits in place.
MIGRATIONS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {
    1: dict,
    2: with_roles,
    3: with_values,
}

#: A whole number with more digits is no figure of a rig.
_MOST_DIGITS = 400

#: One code of a pair without the other.
_HALF_A_CHARACTER = re.compile(r"\\u[dD][89abAB]..(?!\\u[dD][c-fC-F])|(?<!\\u[dD][89abAB]..)\\u[dD][c-fC-F]")

_Loc = tuple[str | int, ...]
#: Lists whose members are told apart by their kind.
_TAGGED: tuple[_Loc, ...] = (("stages",), ("junk_box", "parts"))


def load(path: str | Path) -> Project:
    """The project in a file; `FileError` with one sentence when it cannot be read as one."""
    path = Path(path)
    text = read_text(path, LARGEST_BYTES, "a project")
    return loads(text, path.name)


def loads(text: str, name: str = "The file") -> Project:
    """The project in a text; `name` is what messages call it."""
    if not text.strip():
        raise FileError(f"{name} is empty; open its previous version (.bak) or another file.")
    try:
        data = json.loads(
            text, object_pairs_hook=_no_twins, parse_constant=_no_constant, parse_int=_whole_number
        )
    except json.JSONDecodeError as error:
        cut = error.pos >= len(text.rstrip()) or "Unterminated" in error.msg
        what = "ends in the middle (it is truncated)" if cut else "is not JSON"
        raise FileError(
            f"{name} {what} at line {error.lineno}; open its previous version (.bak) or mend that line."
        ) from None
    except RecursionError:
        raise FileError(f"{name} is nested far too deeply to be a project; choose another file.") from None
    except ValueError as error:
        raise FileError(f"{name}: {error}; mend it in a text editor.") from None
    if not isinstance(data, dict):
        raise FileError(f"{name} is JSON but not a project; choose another file.")
    data = _migrated(data, name)
    try:
        # As JSON again, where a number in quotes or a "yes" is none, while lists do for tuples.
        return Project.model_validate_json(json.dumps(data), strict=True)
    except ValidationError as error:
        raise FileError(_complaint(error, text, name)) from None


def dumps(project: Project) -> str:
    """The project as indented JSON, the same for the same project."""
    return project.model_dump_json(indent=2) + "\n"


def save(project: Project, path: str | Path) -> None:
    """Write the project, whole or not at all; the previous version stays beside it as `NAME.bak`.

    `FileError` when that fails; the old file is then untouched. See `disk.write_whole`.
    """
    path = Path(path)
    content = dumps(project).encode()
    if len(content) > LARGEST_BYTES:
        raise FileError(
            f"{path.name} would be larger than {LARGEST_BYTES / 1e6:g} MB and could not be opened again; "
            "take some sweeps out and save again."
        )
    keep(path)
    write_whole(path, content, over_project=True)


def fingerprint(path: Path) -> str | None:
    """Digest of what a file holds, to tell whether it was changed since; None when it holds none."""
    try:
        return sha256(read_regular(path, LARGEST_BYTES, "a project")).hexdigest()
    except FileError:
        return None


def _no_constant(text: str) -> float:
    raise ValueError(f"it holds {text}, which is not a number a rig can have")


def _whole_number(text: str) -> int:
    # Python itself refuses thousands of digits, in words for programmers.
    if len(text) > _MOST_DIGITS:
        raise ValueError(f"it holds a number of {len(text)} digits, which is none a rig can have")
    return int(text)


def _no_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    result: dict[str, Any] = {}
    for key, value in pairs:
        if key in result:
            raise ValueError(f"the name “{shortened(key)}” stands twice in one place")
        result[key] = value
    return result


def _migrated(data: dict[str, Any], name: str) -> dict[str, Any]:
    if "schema_version" not in data:
        raise FileError(f"{name} does not say its schema_version and so is no project; choose another file.")
    version = data["schema_version"]
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise FileError(
            f"{name} says schema_version {shortened(json.dumps(version), 20)}, which no version of Copperclad"
            f" wrote; if it is a project, correct that to {SCHEMA_VERSION}."
        )
    if version > SCHEMA_VERSION:
        raise FileError(
            f"{name} was made by a newer version of Copperclad (format {version}, this one reads up to "
            f"{SCHEMA_VERSION}); update Copperclad to open it."
        )
    for step in range(version, SCHEMA_VERSION):
        data = {**MIGRATIONS[step](data), "schema_version": step + 1}
    return data


def _complaint(error: ValidationError, text: str, name: str) -> str:
    """One sentence on the first thing wrong: the field in words, the line, the reason, the remedy."""
    first = error.errors(include_url=False, include_input=False)[0]
    loc = tuple(step for step in first["loc"])
    place = _in_file(loc)
    line = line_of(text, place)
    where = f"{name}, line {line}" if line else name
    field = ".".join(shortened(str(step)) for step in place) or "the project"
    if first["type"] == "extra_forbidden":
        from difflib import get_close_matches

        known = _known_fields(place[:-1])
        near = get_close_matches(str(place[-1]), known, n=1)
        hint = f"did you mean {near[0]}?" if near else "remove it."
        return f"{where}: {field} is not a field Copperclad knows; {hint}"
    if first["type"] == "missing":
        return f"{where}: {field} is missing; add it."
    if first["type"] == "union_tag_invalid":
        what = "stage" if place[0] == "stages" else "part"
        return f"{where}: {field} has a kind of {what} that Copperclad does not know; correct its kind."
    if first["type"] == "json_invalid":
        half = _HALF_A_CHARACTER.search(text)
        at = f", line {text.count(chr(10), 0, half.start()) + 1}" if half else ""
        return f"{name}{at} holds half a character or is nested too deeply; mend it in a text editor."
    reason = complaint(first, _field_at(loc))
    # Our own reasons say what to do.
    remedy = "" if ";" in reason else "; correct it"
    return f"{where}: {field} cannot be used: {reason[:1].lower()}{reason[1:]}{remedy}."


def _in_file(loc: _Loc) -> _Loc:
    """Pydantic's location without the union tags that it puts behind the index of one told by its kind."""
    for tagged in _TAGGED:
        here = len(tagged) + 1
        if loc[: len(tagged)] == tagged and len(loc) > here:
            return (*loc[:here], *loc[here + 1 :])
    return loc


def _field_at(loc: _Loc) -> FieldInfo | None:
    """The field at pydantic's location, for its unit; None where it is none of a model."""
    models: list[type[BaseModel]] = [Project]
    field: FieldInfo | None = None
    for step in loc:
        if isinstance(step, int):
            continue
        having = [model.model_fields[step] for model in models if step in model.model_fields]
        if having:
            field = having[0]
            models = _models_in(field.annotation)
        else:
            # Not a name but the kind of a stage, which says which of the models it is.
            models = [
                m for m in models if "kind" in m.model_fields and m.model_fields["kind"].default == step
            ]
    return field


def _kind(model: type[BaseModel]) -> object:
    field = model.model_fields.get("kind")
    return None if field is None else field.default


def _known_fields(place: _Loc) -> list[str]:
    """Every field name a model at `place` might have; all of them where the kind is not known."""
    names: set[str] = set()
    queue: list[type[BaseModel]] = [Project]
    seen: set[type[BaseModel]] = set()
    while queue:
        model = queue.pop()
        if model in seen:
            continue
        seen.add(model)
        names |= set(model.model_fields)
        queue += [inner for field in model.model_fields.values() for inner in _models_in(field.annotation)]
    return sorted(names) if place else sorted(Project.model_fields)


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if annotation is StageBase:
        return list(STAGES.values())
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for part in getattr(annotation, "__args__", ()) for model in _models_in(part)]


def line_of(text: str, place: _Loc) -> int | None:
    """Line (from 1) on which the value at `place` stands in a JSON text, None when it has none.

    For a missing field the line of what should hold it.
    """
    position, found = _skip_blank(text, 0), None
    for step in place:
        found = position
        inside = _member(text, position, step)
        if inside is None:
            break
        position = found = inside
    return None if found is None else text.count("\n", 0, found) + 1


_WHITE = " \t\r\n"


def _skip_blank(text: str, position: int) -> int:
    while position < len(text) and text[position] in _WHITE:
        position += 1
    return position


def _member(text: str, start: int, step: str | int) -> int | None:
    """Position of member `step` of the object or array that starts at `start` in valid JSON."""
    decoder = json.JSONDecoder()
    opening = text[start : start + 1]
    if opening not in ("{", "["):
        return None
    position, index = _skip_blank(text, start + 1), 0
    while position < len(text) and text[position] not in "}]":
        key: str | int = index
        at = position
        if opening == "{":
            key, position = decoder.raw_decode(text, position)
            position = _skip_blank(text, _skip_blank(text, position) + 1)
        if key == step:
            return at if opening == "{" and text[position] not in "{[" else position
        _, position = decoder.raw_decode(text, position)
        position = _skip_blank(text, position)
        if text[position : position + 1] == ",":
            position = _skip_blank(text, position + 1)
        index += 1
    return None
