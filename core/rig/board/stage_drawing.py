"""A stage's board as it is drawn, with what can be picked up on it and what is to be said of it."""

from collections.abc import Iterator
from functools import lru_cache

from core.model.values.notation import format_value
from core.rig.board.boards import StageBoard
from core.rig.board.checks import islands_named
from core.rig.board.drawing import BY_HAND, CLASH, LONG, Drawing, Thing, board_shapes
from core.rig.board.items import Item
from core.rig.board.plan import Place

#: What a row of a table says that no source was at hand for.
FROM_MEMORY = "from memory"


@lru_cache(maxsize=96)
def drawing_of(board: StageBoard) -> Drawing:
    """The drawing of a stage's board, the same for the same board."""
    plan, states = board.plan, states_of(board)
    names = islands_named(plan)
    things = [
        Thing(
            each.item.key,
            _named(each.item, board),
            each.place,
            each.box,
            states.get(each.item.key, ()),
        )
        for each in plan.bodies
    ]
    # Parts lie on islands, so that they are picked up first.
    islands = [
        Thing(
            each.key, f"island {names[each.key]}", Place(*each.box.middle), each.box, states.get(each.key, ())
        )
        for each in plan.islands
    ]
    return Drawing(
        title=board.title,
        box=plan.board,
        shapes=board_shapes(plan, board.values, states),
        things=(*things, *islands),
        told=told_of(board),
        legend=tuple(_named(each.item, board) for each in plan.bodies),
    )


def _named(item: Item, board: StageBoard) -> str:
    """A part with its value and what it is: `RB1 1.3 kΩ, resistor 1/4 W, lying`."""
    value = board.values.get(item.key, "")
    told = f"{item.ref} {value}".strip()
    # What is wound names its core already.
    return told if told.endswith(item.package.name) else f"{told}, {item.package.name}"


def states_of(board: StageBoard) -> dict[str, tuple[str, ...]]:
    """Words for what is the matter with parts and islands, by their keys."""
    found: dict[str, list[str]] = {}
    for clash in board.clashes:
        for key in clash.keys:
            found.setdefault(key, []).append(CLASH)
    for lead in board.long_leads:
        found.setdefault(lead.key, []).append(LONG)
    for key in board.plan.by_hand:
        found.setdefault(key, []).append(BY_HAND)
    return {key: tuple(dict.fromkeys(words)) for key, words in found.items()}


def told_of(board: StageBoard) -> tuple[str, ...]:
    """What is said of a board: its size, what it is made of, what is wrong, and what nobody has chosen."""
    plan = board.plan
    width, height = plan.board.size
    wires = len(plan.wires)
    wired = f"{wires or 'no'} wire{'' if wires == 1 else 's'}"
    counts = f"{len(plan.bodies)} parts, {len(plan.islands)} islands, {wired}"
    size = f"{1e3 * width:.0f} × {1e3 * height:.0f} mm: {counts}."
    found = [size, *(each.sentence for each in board.clashes), *(e.sentence for e in board.long_leads)]
    for one, other in plan.crossings:
        found.append(f"Leads of {one} and {other} cross; put a sleeve over one of them.")
    told: dict[str, list[str]] = {}
    for item in board.items:
        if item.told:
            told.setdefault(item.told, []).append(item.ref)
    found += [f"{', '.join(refs)}: {words}." for words, refs in told.items()]
    found += _from_memory(board)
    longest = max((lead.length_m for body in plan.bodies for lead in body.leads), default=0.0)
    found.append(f"The longest bare lead is {format_value(longest, 'm', 2)}.")
    return tuple(found)


def _from_memory(board: StageBoard) -> Iterator[str]:
    """What of the drawing no drawing of a maker's was at hand for: sizes of bodies, and order of leads."""
    sizes = dict.fromkeys(i.package.name for i in board.items if FROM_MEMORY in i.package.status)
    pins = dict.fromkeys(item.ref for item in board.items if FROM_MEMORY in item.pins)
    if sizes:
        yield f"Sizes from memory, measure yours: {'; '.join(sizes)}."
    if pins:
        yield f"Order of leads from memory, look yours up: {', '.join(pins)}."
