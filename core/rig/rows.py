"""What an analysis lists: filters, carriers and parts of a rig, a row each."""

from core.model.bands import Sideband
from core.model.values.base import Path
from core.record import record
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.filters.carrier_oscillator import CarrierPlace, Pulling
from core.stages.filters.stress import PartStress
from core.stages.outcome import Design, FilterDesign, FilterFigures, PartRow, Unsolved


@record(kw_only=True, slots=False)
class CircuitRow:
    """One circuit of the rig: a stage, or the filter at `index` of a stage that switches one in on each band.

    `bands` are those it works on; without an index these are all.
    """

    stage: str
    name: str
    kind: str
    index: int | None
    bands: tuple[str, ...]
    design: Design | Unsolved

    @property
    def path(self) -> Path:
        """Where in the project it was asked."""
        return ("stages", self.stage, *(() if self.index is None else ("filters", self.index)))

    @property
    def own_band(self) -> str:
        """The first band of a filter that is switched in on its bands; empty for other circuits."""
        return self.bands[0] if self.index is not None and self.bands else ""


#: The crystal oscillators by their keys, and as they are called.
OSCILLATORS = {"carrier": "Carrier oscillator", "helper": "Helper oscillator"}
_ASKED: dict[str, Path] = {"carrier": ("carrier", "circuit"), "helper": ("read_out", "helper", "circuit")}


@record(kw_only=True, slots=False)
class OscillatorRow(CircuitRow):
    """A crystal oscillator of parts; `stage` is its key."""

    design: CrystalOscillatorDesign | Unsolved

    @property
    def path(self) -> Path:
        """Where in the project it was asked."""
        return _ASKED[self.stage]


@record(kw_only=True, slots=False)
class FilterRow(CircuitRow):
    """One filter of the rig, with its figures."""

    design: FilterDesign | Unsolved
    figures: FilterFigures | Unsolved


@record(slots=False)
class CarrierRow:
    """The carrier of one sideband at the IF: the bands that use it, its place, and how it is reached."""

    sideband: Sideband
    bands: tuple[str, ...]
    place: CarrierPlace
    pulling: Pulling | None


@record(slots=False)
class RigPart:
    """One part with the circuit it belongs to; `stress` is what it sees at full power, behind the PA only."""

    stage: str
    bands: tuple[str, ...]
    index: int | None
    part: PartRow
    stress: PartStress | None = None
