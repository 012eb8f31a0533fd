"""Format 2 to 3: values as built were written by reference, and are by role and number.

This is the only place that takes a reference apart, and only those of old files.
"""

import re
from collections.abc import Mapping
from typing import Any

from core.model.values.part_names import NAMES
from core.model.values.parts import CRYSTAL_FIGURES, SWITCHED, Family, key

_NUMBER = re.compile(r"[1-9][0-9]*[AB]?")
_FAMILIES: dict[str, Family] = {"ladder": "ladder", "band_pass": "band_pass", "low_pass": "low_pass"}


def role_key(family: Family, ref: str) -> str:
    """The key of the part that format 2 called `ref`.

    What no design of that version could have is kept as no part's; what it refused already stays as it is.

    >>> role_key("ladder", "CS3"), role_key("ladder", "X1A.lm"), role_key("tank", "CB20m")
    ('series:3', 'crystal:1A.lm', 'shift:20m')
    """
    name, _, figure = ref.partition(".") if ref[:1] == "X" else (ref, "", "")
    if figure and figure not in CRYSTAL_FIGURES:
        return ref
    # The longest letters first: CS3 is no C of the number S3.
    for role, naming in sorted(NAMES[family].items(), key=lambda each: -len(each[1].letters)):
        rest = name.removeprefix(naming.letters)
        valued = naming.kind in ("capacitor", "inductor", "crystal") and naming.letters
        if not valued or not name.startswith(naming.letters):
            continue
        if family == "tank" and (not rest or role in SWITCHED):
            return key(role, rest or None)
        if family != "tank" and _NUMBER.fullmatch(rest):
            return key(role, rest, figure)
    return f"other:{ref}" if ref[:1] in ("C", "L", "R", "X") else ref


def _renamed(family: Family, built: Any) -> Any:
    if isinstance(built, Mapping):
        return {role_key(family, ref): value for ref, value in built.items()}
    if isinstance(built, list):
        return [
            [role_key(family, pair[0]), *pair[1:]]
            if isinstance(pair, list) and pair and isinstance(pair[0], str)
            else pair
            for pair in built
        ]
    return built


def _with_keys(family: Family, holder: Any) -> Any:
    if not isinstance(holder, dict) or "as_built" not in holder:
        return holder
    return {**holder, "as_built": _renamed(family, holder["as_built"])}


def _stage(stage: Any) -> Any:
    family = _FAMILIES.get(str(stage.get("kind"))) if isinstance(stage, dict) else None
    if family is None:
        return stage
    stage = _with_keys(family, stage)
    if isinstance(stage.get("filters"), list):
        stage = {**stage, "filters": [_with_keys(family, each) for each in stage["filters"]]}
    return stage


def with_roles(data: dict[str, Any]) -> dict[str, Any]:
    """The project with its values as built by role; what is not as it should be is left for the check."""
    data = dict(data)
    if isinstance(data.get("stages"), list):
        data["stages"] = [_stage(stage) for stage in data["stages"]]
    vfo = data.get("vfo")
    if isinstance(vfo, dict) and "tank" in vfo:
        data["vfo"] = {**vfo, "tank": _with_keys("tank", vfo["tank"])}
    return data
