"""Diodes for mixers by their type, each row with its source."""

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

from core.circuits.circuit import Diode
from core.record import record
from core.trade.tables import rows


@record(kw_only=True)
class DiodeRow:
    """A diode: saturation current [A], ideality [-], series resistance [ohm], largest forward current [A],
    and its package.
    """

    diode: str
    name: str
    made: str
    saturation_a: float
    ideality: float
    series_ohm: float
    most_a: float
    package: str
    source: str
    status: str

    @property
    def model(self) -> Diode:
        """The diode as a circuit has it."""
        return Diode(saturation_a=self.saturation_a, ideality=self.ideality, series_ohm=self.series_ohm)


@lru_cache(maxsize=1)
def diodes() -> Mapping[str, DiodeRow]:
    """Every diode in the table, by its name in the model."""
    return MappingProxyType({row["diode"]: DiodeRow(**row) for row in rows("diodes")})
