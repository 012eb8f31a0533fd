"""What is mounted on panels: holes, cut-outs, and the room that it takes."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Literal

from core.trade.tables import rows

Side = Literal["front", "rear"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FittingKind:
    """A kind of fitting, in metres from its middle: round `holes` (x, y, diameter), `cuts` (x, y, width,
    height), and width and height of the room that it takes before and behind the panel; `side` is where it
    usually is.
    """

    fitting: str
    name: str
    holes: tuple[tuple[float, float, float], ...]
    cuts: tuple[tuple[float, float, float, float], ...]
    front_m: tuple[float, float]
    behind_m: tuple[float, float]
    side: Side
    source: str
    status: str

    @property
    def room_m(self) -> tuple[float, float]:
        """Width and height that it takes, before and behind together [m]."""
        (a, b), (c, d) = self.front_m, self.behind_m
        return max(a, c), max(b, d)


@lru_cache(maxsize=1)
def fittings() -> Mapping[str, FittingKind]:
    """Every kind of fitting, by its word."""
    return MappingProxyType({row["fitting"]: _kind(**row) for row in rows("fittings")})


def _kind(**row: Any) -> FittingKind:
    lists = {name: tuple(tuple(each) for each in row.get(name, ())) for name in ("holes", "cuts")}
    sizes = {name: tuple(row[name]) for name in ("front_m", "behind_m")}
    return FittingKind(**{**row, **lists, **sizes})
