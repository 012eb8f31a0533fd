"""The parts of what is selected: as designed, as preferred value, as built."""

from app.state.look import Look
from core.model.project import Stage
from core.model.values.as_built import unit_of_part
from core.model.values.base import Path
from core.model.values.part_names import spelled
from core.model.values.parts import TYPE, Family
from core.record import record
from core.rig.analysis import Analysis
from core.rig.bag import BEING_FITTED, standing_in
from core.rig.figures.parts import part_value
from core.rig.paper.parts_list import idle_values
from core.rig.supply.soldered import SupplyDesign
from core.stages.kinds.table import KINDS
from core.stages.outcome import Design, PartRow, Unsolved
from core.stages.vfo.tank import TankDesign

HEADS = ("Part", "designed", "preferred", "as built")
AS_BUILT = 3
HELP = (
    "What the calculation asks for.",
    "What the calculation asks for.",
    "What is taken: values of the series chosen above, and in a low-pass coils wound to suit them.",
    "The value really fitted. Type a reading here: it replaces the computed value, and everything "
    "after it follows. Empty it to go back.",
)
_IDLE = "No part of this design. Empty the last column to clear it."


@record(kw_only=True)
class PartLine:
    """One part: its values as built stand at `path` in the design by its key, nowhere where that is empty;
    `help` at its reference and at its values; bare numbers are read near to `near`.
    """

    path: Path
    key: str
    ref: str
    cells: tuple[str, ...]
    help: tuple[str, str]
    unit: str
    near: float
    as_built: float | None
    #: Whether a value can be measured and typed; a transformer has turns and none.
    typed: bool = True


@record
class PartsPicture:
    """The parts, or why there are none."""

    lines: tuple[PartLine, ...]
    reason: str


def picture_of(analysis: Analysis, look: Look) -> PartsPicture:
    """The parts of the selected stage on the band looked at, or of the VFO's tank."""
    project = analysis.project
    stage = None if look.stage is None else project.stage(look.stage)
    design: Design | TankDesign | Unsolved | None = None
    if look.selection == ("vfo",):
        design = analysis.tank
    elif look.selection == ("carrier",):
        design = analysis.carrier_circuit
    elif stage is not None:
        design = analysis.design(stage.id, look.band)
    parts = () if design is None or isinstance(design, Unsolved) else design.parts
    path = _as_built_path(analysis, stage, look)
    ladder = None if stage is None else KINDS[stage.kind].ladder(stage)
    labels = {} if ladder is None else standing_in(analysis, ladder)
    lines = []
    for part in parts:
        label = labels.get(part.ref)
        lines.append(_line(part, path, part.key, label, "" if label is None else _crystal(label)))
    if path:
        holder = project.at(path[:-1])
        idle = idle_values(holder.as_built, parts)
        lines += [_idle(holder.family, path, key, value) for key, value in holder.as_built if key in idle]
    return PartsPicture(tuple(lines), design.reason if isinstance(design, Unsolved) else "")


def of_supply(design: SupplyDesign) -> PartsPicture:
    """The parts of a supply, those of a type with it, those of a decoupling with who is behind it."""
    lines = [
        _line(row, *design.places.get(row.ref, ((), row.key)), row.type or row.note or None)
        for row in design.parts
    ]
    lines += [_idle("supply", path, key, value) for path, key, value in design.idle]
    return PartsPicture(tuple(lines), "")


def _as_built_path(analysis: Analysis, stage: Stage | None, look: Look) -> Path:
    """Where the as-built values of the parts on show stand in the design; empty when there are none."""
    if look.selection == ("vfo",) and analysis.project.vfo.tank is not None:
        return ("vfo", "tank", "as_built")
    if look.selection == ("carrier",) and analysis.project.carrier.circuit is not None:
        return ("carrier", "circuit", "as_built")
    if stage is None:
        return ()
    member = analysis.member_on(stage.id, look.band)
    if isinstance(member, Unsolved) or "as_built" not in type(member.asked).model_fields:
        return ()
    return (*member.path_in(stage.id), "as_built")


def _line(part: PartRow, path: Path, key: str, label: str | None, told: str = "") -> PartLine:
    """A part with what stands beside its reference, and what is told of it where that is not its note."""
    values = (part.designed, part.preferred, part.as_built)
    return PartLine(
        path=path,
        key=key,
        ref=part.ref,
        cells=(
            part.ref if label is None else f"{part.ref} · {label}",
            *(part_value(value, part.unit) for value in values),
        ),
        help=(told or part.note, part.note),
        unit=part.unit,
        near=part.preferred,
        as_built=part.as_built,
        typed=bool(path) and part.unit != TYPE and part.kind != "transformer",
    )


def _crystal(label: str) -> str:
    if label == BEING_FITTED:
        return "Which crystal of the batch this is, is told when their sweeps are fitted."
    return f"Crystal {label} of the batch."


def _idle(family: Family, path: Path, key: str, value: float) -> PartLine:
    """A value as built that no part of the design takes: on show so that it can be cleared."""
    ref, unit = spelled(family, key), unit_of_part(family, key)
    cells = (ref, "", "", part_value(value, unit))
    return PartLine(
        path=path,
        key=key,
        ref=ref,
        cells=cells,
        help=(_IDLE, _IDLE),
        unit=unit,
        near=value,
        as_built=value,
    )
