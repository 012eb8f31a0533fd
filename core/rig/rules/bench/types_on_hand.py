"""Rules on types on hand: too few of what is asked for by its type lie in the junk box, and others do."""

from collections import Counter
from collections.abc import Iterable, Iterator

from core.model.notebook.junk_box import CoreOnHand, DiodeOnHand, TransistorOnHand
from core.model.project import Project
from core.model.stages.kinds import Stage
from core.model.values.base import Path
from core.record import record
from core.rig.analysis import Analysis
from core.rig.circuits import rows_of
from core.rig.findings import COMMON_PRACTICE, Finding, rule
from core.rig.rows import OSCILLATORS
from core.rig.wound.windings import cores_of
from core.stages.kinds.table import kind_of
from core.stages.outcome import PartRow, Unsolved
from core.stages.transistors import transistor
from core.stages.vfo.tank import TankDesign, given_parts
from core.trade.cores import cores
from core.trade.devices import devices
from core.trade.diodes import diodes

#: Fields that ask for a type, and of what.
_FIELDS = {
    "device": "transistor",
    "buffer": "transistor",
    "diode": "diode",
    "core": "core",
    "coil_core": "core",
}
#: So many types on hand are told of.
_MOST_TOLD = 3
#: What is of one type: transistor, diode or core, and its name as it is compared.
_Type = tuple[str, str]


@record(kw_only=True)
class Asked:
    """A type that a field asks for: transistor, diode or core, as the field has it and as it is written; the
    field, the stage or oscillator by its key, what that is called, and how many pieces it takes.
    """

    kind: str
    value: str
    type: str
    path: Path
    stage: str
    name: str
    pieces: int


@record(kw_only=True)
class Other:
    """A type on hand that would go into a circuit instead: as the field has it, and as it is written."""

    value: str
    type: str


@rule
def type_on_hand(analysis: Analysis) -> Iterator[Finding | None]:
    """Types on hand that would do for one asked for, of which there are too few; whether the rig is as good
    with one of them its remedy tells.
    """
    have = _on_hand(analysis.project)
    if not have:
        return
    wanted, left = _wanted(analysis), have.copy()
    for asked in _asked(analysis):
        type_ = (asked.kind, asked.type.casefold())
        short = left[type_] < asked.pieces
        left[type_] -= 0 if short else asked.pieces
        if not short or _is_looked_at(analysis, asked):
            continue
        found: list[str] = []
        for other in _named(analysis, asked):
            enough = (have - wanted)[asked.kind, other.type.casefold()] >= asked.pieces
            if enough and len(found) < _MOST_TOLD:
                found += [other.type] if _goes_in(analysis, asked, other) else []
                yield None
        if not found:
            continue
        made = "is wound on" if asked.kind == "core" else "is asked for with"
        yield Finding(
            severity="note",
            rule="type_on_hand",
            stage=asked.stage,
            path=asked.path,
            subject=str(asked.path[-1]),
            words=f"{asked.name} {made} {asked.type}, of which <limit> are wanted there and <figure> left on "
            f"hand; its circuit can be made with {', '.join(found)}, of which there are enough.",
            figure=float(left[type_]),
            limit=float(asked.pieces),
            at_least=True,
            remedy="Take one on hand if the whole rig is hardly worse with it.",
            source=COMMON_PRACTICE,
        )


def others(analysis: Analysis, path: Path) -> Iterator[tuple[Asked, Other]]:
    """The types on hand that would go into a circuit instead of the one that the field asks for, with it."""
    have = _on_hand(analysis.project) - _wanted(analysis)
    for asked in _asked(analysis):
        if asked.path == path:
            for other in _named(analysis, asked):
                enough = have[asked.kind, other.type.casefold()] >= asked.pieces
                if enough and _goes_in(analysis, asked, other):
                    yield asked, other


def _on_hand(project: Project) -> Counter[_Type]:
    """How many there are of each type, where the junk box comes first."""
    counts: Counter[_Type] = Counter()
    for each in project.junk_box.parts if project.junk_box.first else ():
        match each:
            case TransistorOnHand() | DiodeOnHand():
                counts[each.kind, each.device.strip().casefold()] += each.count
            case CoreOnHand():
                counts["core", each.core.strip().casefold()] += each.count
    return counts


def _types(parts: Iterable[PartRow]) -> Counter[_Type]:
    return Counter((each.kind, each.type.casefold()) for each in parts if each.type)


def _wanted(analysis: Analysis) -> Counter[_Type]:
    """How many of each type the whole rig takes."""
    wound = Counter(("core", core.casefold()) for _, _, core in _wound(analysis))
    return _types(each.part for each in analysis.parts) + wound


def _wound(analysis: Analysis) -> list[tuple[str, tuple[str, ...], str]]:
    """The cores that the rig takes, each with its stage and bands: further windings on one are no parts of
    their own, and the coil of an oscillator that is a block is none of its circuit's.
    """
    parts = {(each.stage, each.part.ref) for each in analysis.parts}
    made = {stage for stage, _ in parts}
    return [
        (stage, bands, core)
        for (stage, bands, ref), core in cores_of(analysis).items()
        if (stage, ref) in parts or stage not in made
    ]


def _asked(analysis: Analysis) -> Iterator[Asked]:
    """Every type that the rig is made of and that a field asks for, in the order of the path."""
    rows: list[tuple[Path, str, str, tuple[str, ...] | None, Iterable[PartRow]]] = [
        (row.path, row.stage, row.name, row.bands, row.design.parts)
        for row in (*analysis.circuits, *analysis.oscillators)
        if not isinstance(row.design, Unsolved)
    ]
    rows.append((("carrier",), "carrier", OSCILLATORS["carrier"], None, ()))
    if isinstance(analysis.tank, TankDesign):
        rows.append((("vfo", "tank", "feedback"), "vfo", "VFO", None, given_parts(analysis.tank)))
        rows.append((("vfo", "tank"), "vfo", "VFO", None, ()))
    wound = _wound(analysis)
    for path, stage, name, bands, parts in rows:
        types = _types(parts)
        for of, on, core in wound:
            if of == stage and (bands is None or on == bands):
                types["core", core.casefold()] += 1
        model = analysis.project.at(path)
        fields = {
            field: (kind, str(getattr(model, field)))
            for field, kind in _FIELDS.items()
            if field not in model.idle_fields and getattr(model, field, None)
        }
        # Oscillator and buffer of one type share its pieces.
        shared = Counter(fields.values())
        for field, (kind, value) in fields.items():
            type_ = _written(analysis, kind, value)
            pieces = types[kind, type_.casefold()] // shared[kind, value]
            if pieces:
                yield Asked(
                    kind=kind,
                    value=value,
                    type=type_,
                    path=(*path, field),
                    stage=stage,
                    name=f"{name}'s buffer" if field == "buffer" else name,
                    pieces=pieces,
                )


def _written(analysis: Analysis, kind: str, value: str) -> str:
    if kind == "diode":
        return diodes()[value].name
    row = transistor(value, analysis.project.transistors) if kind == "transistor" else None
    return value if row is None or isinstance(row, Unsolved) else row.name


def _named(analysis: Analysis, asked: Asked) -> Iterator[Other]:
    """All other types of the kind: transistors that are bipolar or junction FETs or MOSFETs alike, cores of
    ferrite or powdered iron alike, those of the same material first.
    """
    own = analysis.project.transistors
    was = transistor(asked.value, own) if asked.kind == "transistor" else None
    names: dict[str, Iterable[str]] = {
        "transistor": [*(each.name for each in own), *devices()],
        "diode": diodes(),
        "core": _like(asked.value) if asked.kind == "core" else (),
    }
    for value in names[asked.kind]:
        row = transistor(value, own) if was is not None else None
        if row is not None and (isinstance(row, Unsolved) or getattr(was, "kind", "") != row.kind):
            continue
        yield Other(value=value, type=_written(analysis, asked.kind, value))


def _like(core: str) -> list[str]:
    of = cores()[core].of
    alike = [name for name, each in cores().items() if each.of.family == of.family]
    return sorted(alike, key=lambda name: cores()[name].mix != of.mix)


def _goes_in(analysis: Analysis, asked: Asked, other: Other) -> bool:
    """Whether the circuit can be made with it."""
    changed = analysis.project.tried(asked.path, other.value)
    if changed is None or changed == analysis.project:
        return False
    then = Analysis(changed)
    if asked.stage == "vfo":
        return isinstance(then.tank, TankDesign) and not then.tank.limits
    if asked.stage in OSCILLATORS:
        made = then.oscillator(asked.stage)
        solved = made is None or not isinstance(made.design, Unsolved)
        return solved and all(row.pulling is None or row.pulling.reaches for row in then.carriers)
    return not any(
        isinstance(row.design, Unsolved) for row in rows_of(changed, then.surroundings, asked.stage)
    )


def _is_looked_at(analysis: Analysis, asked: Asked) -> bool:
    """Whether the rule on amplifiers' transistors looks at it, which knows of gain and noise."""
    stages: dict[str, Stage] = {each.id: each for each in analysis.project.stages}
    stage = stages.get(asked.stage)
    return asked.kind == "transistor" and stage is not None and kind_of(stage).role == "amplifier"
