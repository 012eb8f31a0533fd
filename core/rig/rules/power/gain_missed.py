"""What is told of a circuit of parts that does not come to the gain asked of it."""

from collections.abc import Iterator, Sequence
from typing import Any

from core.rig.findings import Finding
from core.stages.outcome import PartRow

#: So much of the gain asked preferred values alone may cost, dB; common practice, no source.
_MISSED_DB = 1.5


def gain_missed(
    name: str,
    parts: Sequence[PartRow],
    asked_db: float,
    missed_db: float,
    *,
    of: str,
    other: str,
    **said: Any,
) -> Iterator[Finding]:
    """What stage `name` of these parts lacks of a gain [dB], if that is more than rounding costs: `of` what
    kind it is, and which `other` circuit would have it.
    """
    if missed_db <= _MISSED_DB:
        return
    built = any(part.as_built is not None for part in parts)
    yield Finding(
        severity="caution",
        words=f"{name} has <figure> of {of} where <limit> is asked.",
        figure=asked_db - missed_db,
        limit=asked_db,
        at_least=True,
        unit="dB",
        shown=".1f",
        remedy="Compare its parts as built with the preferred values, which are made for that gain."
        if built
        else f"Ask for what this circuit gives, or take {other}.",
        source="linear solution of the circuit on its fitted parts",
        **said,
    )
