"""Reads the data tables in assets/, each row with its source, once."""

import json
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

_CORE = Path(__file__).resolve().parents[1]


def data_folder(name: str) -> Path:
    """The folder `assets` or `sample_projects`: in the installed package, or at the top of a checkout."""
    packed = _CORE / name
    return packed if packed.is_dir() else _CORE.parent / name


@lru_cache(maxsize=32)
def rows(table: str, part: str = "rows") -> tuple[Mapping[str, Any], ...]:
    """The rows of assets/`table`.json, or those under another name in it; `ValueError` when one has no
    source.

    A table's `source` counts for every row that has none of its own.
    """
    content = json.loads((data_folder("assets") / f"{table}.json").read_text(encoding="utf-8"))
    shared = {key: content[key] for key in ("source", "status") if key in content}
    result = tuple(MappingProxyType({**shared, **row}) for row in content[part])
    for row in result:
        if not row.get("source"):
            raise ValueError(f"A row of assets/{table}.json names no source: {dict(row)}.")
    return result
