"""The circuits of a rig's stages, whatever their kind, designed for what is around them.

`Surroundings` are what a stage may know of the rig. What takes long is cached by the kinds themselves.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence

from core.model.project import Project, Stage
from core.model.stages.stage import Member
from core.model.values.quantities import spelled
from core.rig.plan.front_loss import FrontLoss
from core.rig.rows import CircuitRow, FilterRow
from core.stages.filters.stress import PartStress
from core.stages.kinds.kind import FRONT, Surroundings
from core.stages.kinds.table import kind_of
from core.stages.outcome import Design, FilterDesign, FilterFigures, Unsolved


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


def as_filter(made: Design | Unsolved, stage: Stage) -> FilterDesign | Unsolved:
    """A stage's circuit where it is a filter."""
    return made if isinstance(made, FilterDesign | Unsolved) else _no_filter(stage)


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
