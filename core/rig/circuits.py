"""The circuits of a rig's stages, whatever their kind, designed for what is around them, and their parts.

`Surroundings` are what a stage may know of the rig. What takes long is cached by the kinds themselves.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property

from numpy.typing import ArrayLike

from core.circuits.ladder import Array, Response, frozen, solve
from core.model.bands import Dials
from core.model.project import Project, Stage
from core.model.stages.filters import BandPassFilter
from core.model.stages.stage import Member, Way
from core.model.values.quantities import spelled
from core.rig.frequencies import Frequencies
from core.rig.levels.blocks import power_amplifier
from core.rig.plan.front_loss import FrontLoss
from core.rig.plan.rejections import Rejection, rejections
from core.rig.rows import CircuitRow, FilterRow, RigPart
from core.stages.band_pass.widths import LossOverWidth, loss_over_width
from core.stages.filters.stress import PartStress
from core.stages.kinds.kind import FRONT, Sending, Surroundings
from core.stages.kinds.table import kind_of
from core.stages.outcome import Design, FilterDesign, FilterFigures, Unsolved
from core.stages.transistors import choices
from core.stages.vfo.tank import TankDesign, given_parts


def _no_filter(stage: Stage) -> Unsolved:
    return Unsolved(f"{stage.name} is not a filter.")


def member_on(stage: Stage, band: str) -> Member | Unsolved:
    """What the circuit that a stage has on a band, or switches in on it, is designed from."""
    if kind_of(stage).making is None or not stage.members:
        return _no_filter(stage)
    for each in stage.members:
        if each.bands is None or band in each.bands:
            return each
    return Unsolved(f"{stage.name} has no filter for {spelled(band)}; add one or tick the band on another.")


def design_on(stage: Stage, band: str, around: Surroundings) -> Design | Unsolved:
    """The circuit and parts that a stage has on a band."""
    making, found = kind_of(stage).making, member_on(stage, band)
    if isinstance(found, Unsolved):
        return found
    return _no_filter(stage) if making is None else making.design(found.asked, around)


def figures_on(stage: Stage, band: str, around: Surroundings) -> FilterFigures | Unsolved:
    """The figures of the filter that a stage has on a band."""
    making, found = kind_of(stage).making, member_on(stage, band)
    if isinstance(found, Unsolved):
        return found
    return (
        _no_filter(stage) if making is None or making.figures is None else making.figures(found.asked, around)
    )


def rows_of(project: Project, around: Surroundings, stage: str) -> tuple[CircuitRow, ...]:
    """The circuits of one stage; no other is designed."""
    return tuple(_rows(project, around, (project.stage(stage),)))


def filter_rows(project: Project, around: Surroundings) -> tuple[FilterRow, ...]:
    """Every filter in the order of the path, those of switched-out stages too; nothing else is designed."""
    filters = [s for s in project.stages if (m := kind_of(s).making) is not None and m.figures is not None]
    return tuple(row for row in _rows(project, around, filters) if isinstance(row, FilterRow))


def circuit_rows(project: Project, around: Surroundings) -> tuple[CircuitRow, ...]:
    """Every circuit in the order of the path, those of switched-out stages too."""
    return tuple(_rows(project, around, project.stages))


def _rows(project: Project, around: Surroundings, stages: Sequence[Stage]) -> Iterator[CircuitRow]:
    every = tuple(band.name for band in project.bands)
    for stage in stages:
        making = kind_of(stage).making
        if making is None:
            continue
        for place, asked, bands in stage.members:
            row = CircuitRow(
                stage=stage.id,
                name=stage.name,
                kind=stage.kind,
                index=place,
                bands=every if bands is None else bands,
                design=making.design(asked, around),
            )
            if making.figures is not None:
                row = FilterRow(**vars(row), figures=making.figures(asked, around))
            yield row


def stress_in(
    stage: Stage, place: int | None, around: Surroundings, power_w: float
) -> tuple[PartStress, ...]:
    """What the parts of a circuit of a stage see with `power_w` [W] from the power amplifier; empty for
    circuits that are not behind it.
    """
    making = kind_of(stage).making
    if making is None or making.stress is None or not stage.in_path:
        return ()
    asked = (each.asked for each in stage.members if each.place == place)
    return next((making.stress(one, around, power_w) for one in asked), ())


def front_filters(stages: Iterable[Stage], design: Callable[[Stage], Design | Unsolved]) -> FrontLoss:
    """The front filters among `stages`, which stand from the antenna on, those that can be designed.

    Next to each other they are one circuit.
    """
    chains: list[tuple[FilterDesign, ...]] = [()]
    for stage in stages:
        if kind_of(stage).role not in FRONT:
            chains.append(())
            continue
        made = design(stage)
        if isinstance(made, FilterDesign):
            chains[-1] = (*chains[-1], made)
    return FrontLoss(tuple(chain for chain in chains if chain))


class Circuits(Frequencies):
    """Designs, figures and parts of the circuits, each when somebody first looks at it."""

    def __init__(self, project: Project) -> None:
        super().__init__(project)
        self._designs: dict[tuple[str, str], Design | Unsolved] = {}
        self._front: dict[tuple[str, Way], FrontLoss] = {}

    @cached_property
    def transistors(self) -> tuple[tuple[str, str], ...]:
        """What a stage can be built of, each by its name in the model and as it is spelled."""
        return choices(self.project.transistors)

    def member_on(self, stage_id: str, band: str) -> Member | Unsolved:
        """What the circuit that a stage has on a band, or switches in on it, is designed from."""
        return member_on(self.project.stage(stage_id), band)

    def dials(self, bands: tuple[str, ...]) -> Dials:
        """The dial ranges (low, high) [Hz] of those of `bands` that the rig has."""
        return self.surroundings.dials(bands)

    def design(self, stage_id: str, band: str) -> Design | Unsolved:
        """The circuit and parts that a stage has on a band, of whatever kind it is."""
        return self._design(self.project.stage(stage_id), band)

    def _design(self, stage: Stage, band: str) -> Design | Unsolved:
        # The kinds cache what they design, but a key of theirs is a model with all its fields.
        key = (stage.id, band)
        if key not in self._designs:
            self._designs[key] = design_on(stage, band, self.surroundings)
        return self._designs[key]

    def filter_design(self, stage_id: str, band: str) -> FilterDesign | Unsolved:
        """The circuit and parts of the filter that a stage switches in on a band."""
        stage = self.project.stage(stage_id)
        made = self._design(stage, band)
        return made if isinstance(made, FilterDesign | Unsolved) else _no_filter(stage)

    def loss_over_width(self, stage_id: str, band: str) -> LossOverWidth | Unsolved | None:
        """What width and Q cost the filter that a stage switches in on a band; None where it is no
        band-pass.
        """
        found = self.member_on(stage_id, band)
        if isinstance(found, Unsolved) or not isinstance(found.asked, BandPassFilter):
            return None
        return loss_over_width(found.asked, self.dials(found.bands or ()), self.surroundings.shelf)

    def filter_figures(self, stage_id: str, band: str) -> FilterFigures | Unsolved:
        """The figures of the filter that a stage switches in on a band."""
        return figures_on(self.project.stage(stage_id), band, self.surroundings)

    def rejections(self, stage_id: str, band: str, dial_hz: float) -> tuple[Rejection, ...]:
        """What a filter stage keeps out on a band with the dial at `dial_hz` [Hz]; empty without a design."""
        design = self.filter_design(stage_id, band)
        return () if isinstance(design, Unsolved) else rejections(design, self.band_plan(band), dial_hz)

    def filter_response(self, stage_id: str, band: str, f_hz: ArrayLike) -> Response | Unsolved:
        """The exact response of that filter on a grid, shape (F,) [Hz]."""
        design = self.filter_design(stage_id, band)
        return design if isinstance(design, Unsolved) else solve(design.network, f_hz)

    @cached_property
    def circuits(self) -> tuple[CircuitRow, ...]:
        """Every circuit of the rig's stages in the order of the path, those of switched-out stages too."""
        return circuit_rows(self.project, self.surroundings)

    @cached_property
    def filters(self) -> tuple[FilterRow, ...]:
        """Every filter of the rig in the order of the path, switched-out stages too."""
        return filter_rows(self.project, self.surroundings)

    @cached_property
    def parts(self) -> tuple[RigPart, ...]:
        """Every part of every circuit that could be designed, and all that is soldered for crystal
        oscillators and the VFO.
        """
        stages = tuple(
            RigPart(row.stage, row.bands, row.index, part, stress.get(part.ref))
            for row in self.circuits
            if not isinstance(row.design, Unsolved)
            for stress in ({each.ref: each for each in self.part_stress(row.stage, row.index)},)
            for part in row.design.parts
        )
        stages += tuple(
            RigPart(row.stage, row.bands, None, part)
            for row in self.oscillators
            if not isinstance(row.design, Unsolved)
            for part in row.design.parts
        )
        if not isinstance(self.tank, TankDesign):
            return stages
        soldered = (*self.tank.parts, *given_parts(self.tank))
        return (*stages, *(RigPart("vfo", (), None, part) for part in soldered))

    @cached_property
    def full_power_w(self) -> float:
        """The most that the transmitter can send into its low-pass: the power amplifier's largest output."""
        amplifier = self.sending
        return self.project.station.power_w if amplifier is None else amplifier.rated_w

    @property
    def sending(self) -> Sending | None:
        """What the power amplifier sends; None without one that can be made."""
        return self._power[1]

    @cached_property
    def _power(self) -> tuple[int, Sending | None]:
        # It is the same on every band.
        band = self.project.bands[0].name
        return power_amplifier(self.project.path("transmit"), lambda stage: self._design(stage, band))

    def part_stress(self, stage_id: str, index: int | None) -> tuple[PartStress, ...]:
        """What the parts of a circuit behind the power amplifier see at full power; empty for others."""
        stage = self.project.stage(stage_id)
        return stress_in(stage, index, self.surroundings, self.full_power_w)

    def filter_stress(self, stage_id: str, band: str) -> tuple[PartStress, ...]:
        """What the parts of the circuit that a stage switches in on a band see at full power."""
        found = self.member_on(stage_id, band)
        return () if isinstance(found, Unsolved) else self.part_stress(stage_id, found.place)

    def front_losses(self, band: str, way: Way, f_hz: Array) -> Array:
        """Loss of the path's band-pass and low-pass filters together at `f_hz`, shape (F,) [Hz], in dB."""
        return frozen(self.front_loss(band, way)(f_hz))

    def front_loss(self, band: str, way: Way) -> FrontLoss:
        """The band-pass and low-pass filters that a signal passes on a band, those that can be designed;
        next to each other they are one circuit.
        """
        if (band, way) not in self._front:
            # From the antenna on in both directions: filters lose the same either way, and joined backwards
            # they would be another circuit.
            path = self.project.path(way)[:: 1 if way == "receive" else -1]
            self._front[band, way] = front_filters(path, lambda stage: self._design(stage, band))
        return self._front[band, way]
