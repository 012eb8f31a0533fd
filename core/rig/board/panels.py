"""Front and rear panel: what a rig wants on them, where it is put by itself, and what is in whose way."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

from core.model.boards.board import Fitting, Panel
from core.model.project import Project
from core.model.stages.stage import StageBase
from core.rig.board.drawing import (
    CLASH,
    LETTER,
    Area,
    Disc,
    Drawing,
    Shape,
    Stroke,
    Thing,
    Words,
    corners,
)
from core.rig.board.plan import Box, Place, Point, box_at
from core.stages.kinds.table import kind_of
from core.trade.bodies.fittings import FittingKind, Side, fittings

#: What is left free between two fittings and to the panel's edge [m]; common practice, no source.
ROOM_M, EDGE_M = 2e-3, 4e-3
#: Height of letters at the things of a panel [m].
_LETTERS_M = 2.6e-3
#: A panel that is proposed: its height, and its least width [m].
_HEIGHT_M, _WIDTH_M = 0.09, 0.18
_STEP_M = 1e-3


@dataclass(frozen=True, slots=True)
class PanelClash:
    """Something on a panel that is in the way of something else or beyond its edge: numbers of the fittings,
    what is told of it, and what to do; without a full stop.
    """

    numbers: tuple[int, ...]
    told: str
    remedy: str

    @property
    def sentence(self) -> str:
        """What it is and what to do."""
        return f"{self.told}; {self.remedy}."


def panel_of(project: Project, side: Side) -> Panel:
    """The panel as the builder has it, or else as it is proposed."""
    return next((each for each in project.panels if each.side == side), None) or proposed(project, side)


def wanted(project: Project, side: Side) -> tuple[tuple[str, str], ...]:
    """What a rig wants on a panel: the kind of each fitting and what is written at it."""
    sends = bool(project.path("transmit"))
    if side == "rear":
        antenna = "uhf_socket" if project.station.power_w > _BNC_W else "bnc"
        found = [(antenna, "antenna"), ("dc_socket", "12 V"), ("fuse_holder", "fuse")]
        return (*found, ("binding_post", "earth"))
    found = [("display_counter", "")] if project.read_out is not None else []
    tank = project.vfo.tank
    slow = tank is not None and tank.variable.reduction > 1
    found += [("vernier_dial" if slow else "tuning_knob", "tuning"), ("speaker_57", "")]
    controls = [stage.name.lower()[:_LONGEST] for stage in project.stages if _is_control(stage)]
    if project.path("receive"):
        found += [("potentiometer", name) for name in controls or ("volume",)]
    if len(project.bands) > 1:
        found.append(("rotary_switch" if len(project.bands) > 2 else "toggle_switch", "band"))
    if len({band.sideband for band in project.bands}) > 1:
        found.append(("toggle_switch", "sideband"))
    if sends:
        found += [("microphone_socket", "mic"), ("led_5", "send")]
    found += [("jack_3", "phones"), ("toggle_switch", "power")]
    return tuple(found)


def _is_control(stage: StageBase) -> bool:
    """Whether a stage is turned by hand."""
    return kind_of(stage).role == "gain_control"


#: Longest label that a fitting may have.
_LONGEST = 24
#: Above this a UHF socket is usual [W]; common practice, no source.
_BNC_W = 20.0


def proposed(project: Project, side: Side) -> Panel:
    """A panel with all that the rig wants: the large things side by side, the small ones in rows after them.

    It is as wide as they need.
    """
    return _laid_out(wanted(project, side), side)


@lru_cache(maxsize=32)
def _laid_out(things: tuple[tuple[str, str], ...], side: Side) -> Panel:
    kinds = [(fittings()[kind], label) for kind, label in things]
    order = sorted(range(len(kinds)), key=lambda n: -_area(kinds[n][0]))
    places: dict[int, Point] = {}
    boxes: list[Box] = []
    for n in order:
        kind, label = kinds[n]
        at = _first_free(kind, label, boxes)
        places[n] = at
        boxes.append(_claim(kind, label, at))
    right = max((box.right for box in boxes), default=0.0) + EDGE_M
    width = max(_WIDTH_M, round(right + 0.5e-3, 3))
    return Panel(
        side=side,
        width_m=width,
        height_m=_HEIGHT_M,
        fittings=tuple(
            Fitting(kind=kind.fitting, label=label, x_m=places[n][0], y_m=places[n][1])
            for n, (kind, label) in enumerate(kinds)
        ),
    )


def _area(kind: FittingKind) -> float:
    width, height = kind.room_m
    return width * height


def _claim(kind: FittingKind, label: str, at: Point) -> Box:
    """What a fitting takes with what is written below it [m]."""
    width, height = kind.room_m
    wide = max(width, LETTER * _LETTERS_M * len(label))
    below = 1.6 * _LETTERS_M if label else 0.0
    return Box(at[0] - wide / 2, at[1] - height / 2, at[0] + wide / 2, at[1] + height / 2 + below)


def _first_free(kind: FittingKind, label: str, boxes: Sequence[Box]) -> Point:
    """The place farthest to the left, and there the highest, that is nobody's."""
    claim = _claim(kind, label, (0.0, 0.0))
    x = EDGE_M - claim.left
    while True:
        y = EDGE_M - claim.top
        while y + claim.bottom <= _HEIGHT_M - EDGE_M:
            here = claim.moved(x, y).grown(ROOM_M)
            if not any(here.meets(box) for box in boxes):
                return round(x, 4), round(y, 4)
            y += _STEP_M
        x += _STEP_M


def panel_clashes(panel: Panel) -> tuple[PanelClash, ...]:
    """What is in the way of what, before or behind the panel, and what is too near to its edge or beyond."""
    known = fittings()
    edge = Box(0.0, 0.0, panel.width_m, panel.height_m)
    rooms = [
        (n, each, box_at((each.x_m, each.y_m), known[each.kind].room_m))
        for n, each in enumerate(panel.fittings)
        if each.kind in known
    ]
    found = [
        PanelClash((n,), f"“{each.kind}” is no fitting of the table", "take it off the panel")
        for n, each in enumerate(panel.fittings)
        if each.kind not in known
    ]
    for (n, one, box), (m, other, there) in combinations(rooms, 2):
        if box.meets(there):
            told = f"{named(one)} and {named(other)} are in each other's way"
            found.append(PanelClash((n, m), told, "move one of them"))
    # A hair less, as places are rounded.
    inner = edge.grown(1e-4 - EDGE_M)
    for n, each, box in rooms:
        if all(inner.holds(corner) for corner in (box[:2], box[2:])):
            continue
        beyond = not all(edge.holds(corner) for corner in (box[:2], box[2:]))
        near = f"is nearer than {1e3 * EDGE_M:g} mm to the panel's edge"
        what = "reaches beyond the panel" if beyond else near
        found.append(PanelClash((n,), f"{named(each)} {what}", "move it inwards"))
    return tuple(found)


def named(fitting: Fitting) -> str:
    """What a fitting is called: what is written at it, or its kind."""
    kind = fittings().get(fitting.kind)
    name = fitting.kind if kind is None else kind.name
    return f"{fitting.label} ({name})" if fitting.label else f"The {name}"


def panel_drawing(project: Project, side: Side) -> Drawing:
    """A panel as it is drilled and cut, seen from its front."""
    panel = panel_of(project, side)
    clashes = panel_clashes(panel)
    edge = Box(0.0, 0.0, panel.width_m, panel.height_m)
    shapes: list[Shape] = [Area(corners(edge), "panel")]
    things, legend = [], []
    for n, each in enumerate(panel.fittings):
        kind = fittings().get(each.kind)
        if kind is None:
            continue
        shapes += _fitting(kind, each)
        box = box_at((each.x_m, each.y_m), kind.room_m)
        states = (CLASH,) if any(n in clash.numbers for clash in clashes) else ()
        if states:
            shapes += _crossed(box)
        things.append(Thing(str(n), named(each), Place(each.x_m, each.y_m), box, states))
        legend.append(_in_words(kind, each))
    box = _around(edge, [thing.box for thing in things])
    where = "front" if side == "front" else "rear"
    own = any(each.side == side for each in project.panels)
    told = (
        f"{1e3 * panel.width_m:.0f} × {1e3 * panel.height_m:.0f} mm, seen from outside"
        f"{'' if own else ', as proposed'}.",
        *(clash.sentence for clash in clashes),
        "Sizes of holes are from memory; drill after the part that lies before you.",
    )
    return Drawing(
        title=f"{where.capitalize()} panel",
        box=box,
        shapes=tuple(shapes),
        # What is small is picked up before what it lies on.
        things=tuple(sorted(things, key=lambda thing: thing.box.size[0] * thing.box.size[1])),
        told=told,
        legend=tuple(legend),
    )


def _in_words(kind: FittingKind, each: Fitting) -> str:
    """A fitting with its holes: `volume (potentiometer): hole 7 mm, at 40, 30 mm`."""
    sizes: dict[str, int] = {}
    for _, _, diameter in kind.holes:
        name = f"{1e3 * diameter:g} mm"
        sizes[name] = sizes.get(name, 0) + 1
    told = [f"{count} × {name}" if count > 1 else f"hole {name}" for name, count in sizes.items()]
    told += [f"cut-out {1e3 * w:g} × {1e3 * h:g} mm" for _, _, w, h in kind.cuts]
    return f"{named(each)} at {1e3 * each.x_m:.1f}, {1e3 * each.y_m:.1f} mm: {', '.join(told)}"


def _fitting(kind: FittingKind, each: Fitting) -> list[Shape]:
    x, y = each.x_m, each.y_m
    found: list[Shape] = []
    for size, dashed in ((kind.front_m, False), (kind.behind_m, True)):
        room = corners(box_at((x, y), size))
        found.append(Stroke((*room, room[0]), "room", 0.15e-3, dashed=dashed))
    for dx, dy, w, h in kind.cuts:
        found.append(Area(corners(box_at((x + dx, y + dy), (w, h))), "hole"))
    for dx, dy, diameter in kind.holes:
        found.append(Disc((x + dx, y + dy), diameter / 2, "hole"))
        arm = diameter / 2 + 1e-3
        found += [
            Stroke(((x + dx - arm, y + dy), (x + dx + arm, y + dy)), "room", 0.1e-3),
            Stroke(((x + dx, y + dy - arm), (x + dx, y + dy + arm)), "room", 0.1e-3),
        ]
    if each.label:
        below = y + kind.room_m[1] / 2 + 0.8 * _LETTERS_M
        found.append(Words((x, below), each.label, _LETTERS_M))
    return found


def _crossed(box: Box) -> list[Shape]:
    x, y = box.middle
    size = 4e-3
    return [
        Stroke((*corners(box), (box.left, box.top)), "clash", 0.6e-3),
        Stroke(((x - size, y - size), (x + size, y + size)), "clash", 0.8e-3),
        Stroke(((x - size, y + size), (x + size, y - size)), "clash", 0.8e-3),
    ]


def _around(edge: Box, boxes: Sequence[Box]) -> Box:
    every = (edge, *boxes)
    return Box(
        min(b.left for b in every),
        min(b.top for b in every),
        max(b.right for b in every),
        max(b.bottom for b in every),
    )


def mounted(project: Project, side: Side, places: Mapping[str, Place]) -> Project:
    """The rig with fittings of a panel where they are put, by their numbers; a panel that was only proposed
    is then the builder's own.
    """
    panel = panel_of(project, side)
    moved = tuple(
        each
        if str(n) not in places
        else each.edited(("x_m",), round(places[str(n)].x_m, 6)).edited(
            ("y_m",), round(places[str(n)].y_m, 6)
        )
        for n, each in enumerate(panel.fittings)
    )
    return with_panel(project, panel.edited(("fittings",), moved))


def with_panel(project: Project, panel: Panel) -> Project:
    """The rig with a panel of its own."""
    rest = tuple(each for each in project.panels if each.side != panel.side)
    both = sorted((*rest, panel), key=lambda each: each.side)
    return project.edited(("panels",), tuple(both))


def as_proposed(project: Project, side: Side) -> Project:
    """The rig whose panel is proposed again."""
    return project.edited(("panels",), tuple(each for each in project.panels if each.side != side))


def added(project: Project, side: Side, kind: str) -> Project:
    """The rig with another fitting on a panel, where there is room, or in its middle."""
    panel = panel_of(project, side)
    known = fittings()
    boxes = [_claim(known[f.kind], f.label, (f.x_m, f.y_m)) for f in panel.fittings if f.kind in known]
    x, y = _first_free(known[kind], "", boxes)
    if x > panel.width_m:
        x, y = panel.width_m / 2, panel.height_m / 2
    return with_panel(
        project, panel.edited(("fittings",), (*panel.fittings, Fitting(kind=kind, x_m=x, y_m=y)))
    )


def removed(project: Project, side: Side, number: int) -> Project:
    """The rig without one fitting of a panel."""
    panel = panel_of(project, side)
    rest = (*panel.fittings[:number], *panel.fittings[number + 1 :])
    return with_panel(project, panel.edited(("fittings",), rest))


def changed(project: Project, side: Side, field: str, value: object) -> Project:
    """The rig with another width or height of a panel."""
    return with_panel(project, panel_of(project, side).edited((field,), value))


def labelled(project: Project, side: Side, number: int, label: str) -> Project:
    """The rig where something else is written at a fitting."""
    return with_panel(project, panel_of(project, side).edited(("fittings", number, "label"), label))
