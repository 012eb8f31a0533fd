"""What a builder's hand does to a board: puts things somewhere, chooses what they come in, or leaves them."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace

from core.model.boards.board import Board, Packaged, Placed
from core.model.boards.package import OwnPackage
from core.model.project import Project
from core.model.values.wording import shortened
from core.rig.board.items import Item
from core.rig.board.plan import Place
from core.trade.bodies.packages import LYING, Package, packages, wound_core
from core.trade.cores import cores

#: Parts are put on a grid of this [m].
GRID_M = 0.5e-3
#: By key of a part, the word of its package.
Words = tuple[tuple[str, str], ...]
#: Kinds of parts that come in packages of a builder's own: those of two leads that are no coils on a core.
_OWN_FITS = frozenset(
    {"resistor", "capacitor", "electrolytic", "microfarads", "trimmer", "variable", "choke", "diode"}
)


def put(project: Project, stage: str, bands: tuple[str, ...], places: Mapping[str, Place]) -> Project:
    """The rig with things of a board where they are put, by their keys; `bands` are those that its filter
    serves, empty for a stage that has one board. `DesignError` beyond what a board may be.
    """
    board, at = _board(project, stage, bands)
    held = {each.key: each for each in board.places}
    for key, place in places.items():
        held[key] = Placed.checked(
            key=key, x_m=round(place.x_m, 6), y_m=round(place.y_m, 6), turned=place.turned % 4
        )
    return _with(project, at, board.edited(("places",), tuple(held[key] for key in sorted(held))))


def freed(
    project: Project, stage: str, bands: tuple[str, ...], keys: Collection[str] | None = None
) -> Project:
    """The rig where things of a board are placed automatically again; all of it without `keys`."""
    board, at = _board(project, stage, bands)
    rest = () if keys is None else tuple(each for each in board.places if each.key not in keys)
    return project if at is None else _with(project, at, board.edited(("places",), rest))


def in_package(
    project: Project, stage: str, bands: tuple[str, ...], keys: Collection[str], word: str
) -> Project:
    """The rig where parts of a board come in a package, empty for the one that they usually have."""
    board, at = _board(project, stage, bands)
    held = {each.key: each for each in board.packages if each.key not in keys}
    if word:
        held |= {key: Packaged.checked(key=key, package=word) for key in keys}
    return _with(project, at, board.edited(("packages",), tuple(held[key] for key in sorted(held))))


def _board(project: Project, stage: str, bands: tuple[str, ...]) -> tuple[Board, int | None]:
    """What is held of a board, and where in the project; an empty one where nothing is."""
    for n, each in enumerate(project.boards):
        if each.stage == stage and each.band in (bands or ("",)):
            return each, n
    return Board(stage=stage, band=bands[0] if bands else ""), None


def _with(project: Project, at: int | None, board: Board) -> Project:
    kept = (board,) if board.places or board.packages else ()
    boards = project.boards
    changed = (*boards, *kept) if at is None else (*boards[:at], *kept, *boards[at + 1 :])
    return project.edited(("boards",), changed)


def offered(item: Item, own: tuple[OwnPackage, ...] = ()) -> tuple[Package, ...]:
    """The packages that a part as it is usually drawn can come in besides: those of its kind with as many
    leads, a resistor in none that bears less, and a builder's `own`.
    """
    usual = item.package
    if usual.outline == "toroid" and usual.package in cores():
        lying = wound_core(cores()[usual.package], len(usual.feet), lying=True)
        return (lying,) if lying.package == LYING else ()
    found = [
        each
        for each in packages().values()
        if set(each.fits) & set(usual.fits[:1])
        and len(each.feet) == len(usual.feet)
        and each.package != usual.package
        and (each.watt or 0.0) >= (usual.watt or 0.0)
    ]
    if _OWN_FITS & set(usual.fits):
        found += map(_of_own, own)
    return tuple(found)


def role_of(item: Item) -> str:
    """What a part does, whatever its number; of what trims one, that."""
    return f"{item.key.partition(':')[0]}{' trimmer' if item.trims else ''}"


def _of_own(own: OwnPackage) -> Package:
    return Package(
        package=own.name,
        name=own.name,
        outline=own.outline,
        length_m=own.length_m,
        width_m=own.width_m,
        height_m=own.height_m,
        feet=((-own.pitch_m / 2, 0.0), (own.pitch_m / 2, 0.0)),
        source="as the builder measured it",
        status="typed",
    )


def packed(items: Iterable[Item], words: Words, own: tuple[OwnPackage, ...]) -> tuple[Item, ...]:
    """The parts in the packages chosen for them; one that a part cannot come in is told and left."""
    chosen = dict(words)
    return tuple(_packed(item, chosen[item.key], own) if item.key in chosen else item for item in items)


def _packed(item: Item, word: str, own: tuple[OwnPackage, ...]) -> Item:
    found = next((each for each in offered(item, own) if each.package == word), None)
    if found is not None:
        return replace(item, package=found)
    if word == item.package.package:
        return item
    told = f"{item.told}; " if item.told else ""
    return replace(item, told=f"{told}comes in no {shortened(word)}, and is drawn as {item.package.name}")
