"""Temperature coefficients of capacitors and coils by their type."""

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

from core.record import record
from core.trade.tables import rows


@record(kw_only=True)
class Coefficient:
    """What a type of part does with temperature: ppm per kelvin, and how sure that figure is, ± ppm per K."""

    type: str
    name: str
    ppm: float
    tolerance_ppm: float
    source: str
    status: str


@lru_cache(maxsize=1)
def coefficients() -> Mapping[str, Coefficient]:
    """Every type of part in the table, by its name in the model."""
    return MappingProxyType({row["type"]: Coefficient(**row) for row in rows("temperature")})
