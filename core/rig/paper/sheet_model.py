"""What the build sheet is made of, as data without any layout."""

from dataclasses import KW_ONLY
from typing import Any

from core.circuits.ladder import Array
from core.model.notebook.bench_log import Photograph
from core.record import record
from core.rig.figures.plan import CarrierOn
from core.rig.findings import Finding
from core.rig.paper.needed import NeededLine
from core.rig.paper.path_table import PathTable
from core.rig.paper.receiver import ReceiverSection
from core.rig.paper.supply_tables import FigureTable
from core.rig.plan.frequency_plan import BandPlan
from core.rig.workshop.checks import Purity, Switched
from core.rig.workshop.crystal_circuits import CrystalCircuit
from core.rig.workshop.steps import Step
from core.rig.workshop.test_points import TestPoint
from core.rig.wound.ends import WindingEnds
from core.rig.wound.windings import (
    FreeCoil,
    Winding,
)
from core.stages.built.corridor import Corridor
from core.stages.crystals.crystal_choice import Placed
from core.stages.filters.stress import PartStress
from core.stages.outcome import Drawable, PartRow
from core.stages.vfo.tank import TankDesign


@record(slots=False)
class Curve:
    """A small response plot: frequency [Hz] and loss [dB], the range the filter is for, if drawn, and where
    nine of ten like it lie.
    """

    f_hz: Array
    loss_db: Array
    low_hz: float
    high_hz: float
    depth_db: float
    _: KW_ONLY
    scattered: Corridor | None = None


@record(kw_only=True, slots=False)
class FilterSection:
    """One circuit: what its schematic is drawn of, parts, figures, curve; or `reason` why there is none.

    `verify` are three of its figures that are measured once it is soldered.
    """

    title: str
    stage: str
    bands: tuple[str, ...] = ()
    caution: str = ""
    verify: tuple[tuple[str, str], ...] = ()
    drawing: Drawable | None = None
    parts: tuple[PartRow, ...] = ()
    figures: tuple[tuple[str, str], ...] = ()
    curve: Curve | None = None
    reason: str = ""
    placement: tuple[Placed, ...] = ()
    kinds: tuple[str, ...] = ()
    stress: tuple[PartStress, ...] = ()
    stress_title: str = ""
    windings: tuple[Winding, ...] = ()
    ends: tuple[WindingEnds, ...] = ()
    free: tuple[FreeCoil, ...] = ()

    def stress_of(self, ref: str) -> PartStress | None:
        """What a part sees at full power; None where nobody asks."""
        return next((each for each in self.stress if each.ref == ref), None)


@record(kw_only=True, slots=False)
class PlainSection:
    """A stage of which figures are known and no parts; `drawing` is what a sketch of it is drawn of, `verify`
    three of its figures that are measured once it is soldered.
    """

    title: str
    stage: str
    kind: str
    figures: tuple[tuple[str, str], ...]
    verify: tuple[tuple[str, str], ...] = ()
    drawing: Any = None
    caution: str = ""


@record(kw_only=True, slots=False)
class VfoSection:
    """The VFO: its tank and parts, figures a band as (name, a text a band), three to be measured on the first
    band, and what keeps it steady.
    """

    design: TankDesign | None
    parts: tuple[PartRow, ...]
    kinds: tuple[str, ...]
    bands: tuple[str, ...]
    figures: tuple[tuple[str, tuple[str, ...]], ...]
    limits: tuple[str, ...]
    guidance: tuple[str, ...]
    verify: tuple[tuple[str, str], ...] = ()
    windings: tuple[Winding, ...] = ()
    ends: tuple[WindingEnds, ...] = ()


@record(slots=False)
class ReadOutSection:
    """The read-out: figures as (name, a text a band), what switching changes, and the display's step."""

    bands: tuple[str, ...]
    figures: tuple[tuple[str, tuple[str, ...]], ...]
    switching: tuple[str, ...]
    resolution: str
    helper: CrystalCircuit | None = None


@record(kw_only=True, slots=False)
class BuildSheet:
    """Everything on the sheet."""

    name: str
    revision: str
    notes: str
    facts: tuple[tuple[str, str], ...]
    bands: tuple[str, ...]
    paths: tuple[PathTable, ...]
    receiver: tuple[ReceiverSection, ...]
    plan: tuple[BandPlan, ...]
    carriers: tuple[CarrierOn, ...]
    crystals: tuple[CrystalCircuit, ...]
    carrier_coils: tuple[Winding, ...]
    filters: tuple[FilterSection, ...]
    oscillators: tuple[FilterSection, ...]
    plain: tuple[PlainSection, ...]
    order: tuple[str, ...]
    vfo: VfoSection | None
    read_out: ReadOutSection | None
    points: tuple[TestPoint, ...]
    work: tuple[Step, ...]
    alignment: tuple[Step, ...]
    switched: tuple[Switched, ...]
    supply: tuple[FigureTable, ...]
    fed: FilterSection | None
    purity: tuple[Purity, ...]
    needed: tuple[NeededLine, ...]
    photographs: tuple[Photograph, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
