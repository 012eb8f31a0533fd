"""What an analysis lists: filters, carriers and parts of a rig, a row each."""

from dataclasses import dataclass

from core.model.bands import Sideband
from core.stages.filters.carrier_oscillator import CarrierPlace, Pulling
from core.stages.filters.low_pass import PartStress
from core.stages.outcome import FilterDesign, FilterFigures, PartRow, Unsolved
from core.stages.tolerance import FilterKind


@dataclass(frozen=True, kw_only=True)
class FilterRow:
    """One filter of the rig: its stage, place in the stage (None for the ladder), bands, design, figures."""

    stage: str
    name: str
    kind: FilterKind
    index: int | None
    bands: tuple[str, ...]
    design: FilterDesign | Unsolved
    figures: FilterFigures | Unsolved


@dataclass(frozen=True)
class CarrierRow:
    """The carrier of one sideband at the IF: the bands that use it, its place, and how it is reached."""

    sideband: Sideband
    bands: tuple[str, ...]
    place: CarrierPlace
    pulling: Pulling | None


@dataclass(frozen=True)
class RigPart:
    """One part with the filter it belongs to; `stress` is what it sees at full power, behind the PA only."""

    stage: str
    bands: tuple[str, ...]
    index: int | None
    part: PartRow
    stress: PartStress | None = None
