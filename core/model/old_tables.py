"""Format 3 to 4: tables that were kept as typed become values with units."""

from typing import Any

from core.model.readings import readings_of
from core.model.stages.tank import points_of
from core.model.values.errors import DesignError

_UNREAD = "Measured table of the tuning capacitor, which could not be read: "
#: As many letters as a project's notes may have.
_MOST_NOTES = 20_000


def _batch(batch: dict[str, Any]) -> dict[str, Any]:
    rest, text = {name: value for name, value in batch.items() if name != "table"}, batch["table"]
    try:
        readings = [each.model_dump(mode="json") for each in readings_of(text)]
    except DesignError:
        readings = []
    return {**rest, "readings": readings} if readings or not text.strip() else {**rest, "draft": text}


def with_values(data: dict[str, Any]) -> dict[str, Any]:
    """The project with its tables as values; what is not as it should be is left for the check.

    A measured table of a tuning capacitor that is none, and that nothing read, goes into the notes.
    """
    data = dict(data)
    batch = data.get("crystal_batch")
    if isinstance(batch, dict) and isinstance(batch.get("table"), str):
        data["crystal_batch"] = _batch(batch)
    try:
        variable = data["vfo"]["tank"]["variable"]
        text = variable["table"]
    except (KeyError, TypeError):
        return data
    if not isinstance(text, str):
        return data
    try:
        points = [each.model_dump(mode="json") for each in points_of(text)]
    except DesignError:
        if variable.get("law") == "table":
            return data
        points = []
        told = [data.get("notes", ""), f"{_UNREAD}{text}"]
        if isinstance(told[0], str):
            data["notes"] = "\n".join(filter(None, told))[:_MOST_NOTES]
    tank = {**data["vfo"]["tank"], "variable": {**variable, "table": points}}
    data["vfo"] = {**data["vfo"], "tank": tank}
    return data
