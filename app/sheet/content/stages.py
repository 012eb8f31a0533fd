"""A section a stage: drawing, parts, coils, what to verify, and its test points with a blank beside each."""

from collections.abc import Sequence

from app.sheet.content.blocks import (
    BLANK,
    Beside,
    Block,
    Column,
    Grid,
    Heading,
    Labelled,
    Line,
    Picture,
    Pieced,
    Run,
    Section,
    WindingsDrawn,
    Words,
    grid,
    words,
)
from app.style import words as spelling
from core.rig.figures.crystals import PLACED
from core.rig.figures.figure import keyed
from core.rig.figures.filters import STRESS
from core.rig.figures.parts import WINDING, had, part_value
from core.rig.paper.sheet_model import BuildSheet, FilterSection, PlainSection, ReadOutSection, VfoSection
from core.rig.sections.winding_ends import ENDS
from core.rig.supply.soldered import Piece, SupplyDesign
from core.rig.workshop.point_figures import POINT
from core.rig.workshop.test_points import TestPoint, at_stage
from core.rig.wound.ends import WindingEnds
from core.rig.wound.windings import FreeCoil, Winding
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.outcome import PartRow

_POINT, _PLACED, _WINDING = keyed(POINT), keyed(PLACED), keyed(WINDING)
_DOTS = (
    "Windings of one core run the same way round from their starts, which the dots mark; a tap counts from "
    "its coil's start."
)
_CHECK_COILS = (
    "Check each coil before it is soldered in: with the capacitor named across it, it "
    "resonates where told; or read its inductance on a bridge. Squeeze its turns together for more, spread "
    "them for less."
)
_CHECK_DAMPED = (
    "count the turns, and read the inductance on a bridge at 100 kHz or so before they are soldered in; "
    "their ferrite leaves too little Q for a resonance to be seen."
)
#: Parts of a filter that has its response beside its drawing; readings in a line.
_FEW, _ABREAST = 14, 3
#: So many figures of a stage are told in words.
_IN_WORDS = 24
#: So many windings stand beside their table, with what share of the width each.
_MOST_BESIDE, _PER_WINDING = 4, 0.115
#: So many coils have beside their table what their ends go to, with what share of the width for its titles,
#: and for each coil.
_FEW_COILS, _TITLES, _PER_COIL = 3, 0.24, 0.095
#: How many parts of a piece of the supply's drawing are printed side by side.
_ABREAST_OF: dict[Piece, int] = {"feeds": 1, "rails": 2, "relays": 1, "decoupling": 2}
_AT_REST = "At rest, no signal: currents are good within ±20 %, voltages within ±10 % or 0.1 V."


def circuit(section: FilterSection, sheet: BuildSheet) -> Section:
    """A stage, or one of the filters that it switches in."""
    if section.drawing is None:
        return Section("stages", section.title, (_fault(section.reason),))
    points = [each for each in at_stage(sheet.points, section.stage) if _here(each, section)]
    told = _told(section.figures)
    reason = (*_mind(section.caution), *((_fault(section.reason),) if section.reason else ()))
    below = [*told, *_readings(section.verify, points), *signals(points)]
    below += [*_free(section.free), *_wound(section.windings, section.ends)]
    below += _placement(section)
    return Section("stages", section.title, (*reason, *_drawn(section), *below))


def supply(section: FilterSection, sheet: BuildSheet) -> Section:
    """The supply's circuit, among the tables of the supply: its drawing piece by piece."""
    made = section.drawing
    assert isinstance(made, SupplyDesign)
    points = at_stage(sheet.points, section.stage)
    drawn = [
        Picture(Pieced(made, piece, place, min(place + abreast, made.drawn_in(piece))))
        for piece, abreast in _ABREAST_OF.items()
        for place in range(0, made.drawn_in(piece), abreast)
    ]
    told = words("Ends of one name are joined; who hangs on a rail is told at its end.", "soft", leads=True)
    parts = _parts(section.parts, section.kinds)
    return Section("supply", section.title, (told, *drawn, parts, *_readings(section.verify, points)))


def _told(figures: Sequence[tuple[str, str]]) -> tuple[Block, ...]:
    """Figures in a line or two; more than anybody reads so stand in a table, two abreast."""
    if not figures:
        return ()
    if len(figures) <= _IN_WORDS:
        return (words(", ".join(f"{name} {value}" for name, value in figures), "soft", small=True),)
    columns = (Column("figure", wide=True), Column("", right=True))
    return (Grid(columns, tuple(map(Line, figures))).abreast(2),)


def _drawn(section: FilterSection) -> tuple[Block, ...]:
    """Drawing, response and parts; what has few parts has its response beside its drawing."""
    picture, parts = Picture(Labelled(section.drawing, section.placement)), _parts_of(section)
    if isinstance(section.drawing, CrystalOscillatorDesign):
        # Too wide to have anything beside it.
        return picture, parts
    if section.curve is None:
        return (Beside((), (parts,), picture),)
    curve = Picture(section.curve)
    if len(section.parts) > _FEW:
        return picture, Beside((curve,), (parts,), shares=(0.4,))
    return Beside((picture,), (curve,), shares=(0.56,)), parts


def _here(point: TestPoint, section: FilterSection) -> bool:
    """Whether a point belongs to this one of a stage's circuits."""
    return not point.band or not section.bands or point.band in section.bands


def _mind(caution: str) -> tuple[Words, ...]:
    """What a stage is to be handled with."""
    return (Words((Run("Mind: ", "strong"), Run(caution)), leads=True),) if caution else ()


def _fault(reason: str) -> Words:
    return words(reason, "strong")


def plain(section: PlainSection, sheet: BuildSheet) -> Section:
    """A stage whose parts are not told."""
    figures = ", ".join(f"{name} {value}" for name, value in section.figures)
    points = at_stage(sheet.points, section.stage)
    told = Words((Run(f"{section.kind}. ", "plain"), Run(figures, "soft")), small=True)
    blocks: tuple[Block, ...] = (*_mind(section.caution), told)
    if section.drawing is not None:
        blocks = (Beside((Picture(Labelled(section.drawing)),), blocks, shares=(0.45,)),)
    below = (*_readings(section.verify, points), *signals(points))
    return Section("stages", section.title, (*blocks, *below))


def vfo(section: VfoSection, sheet: BuildSheet) -> Section:
    """The VFO with its tank."""
    limits = tuple(map(_fault, section.limits))
    guidance = tuple(words(line, "soft", "•") for line in section.guidance)
    if section.design is None:
        return Section("vfo", "VFO", (*limits, *guidance))
    points = at_stage(sheet.points, "vfo")
    left = (by_band(section.bands, section.figures),)
    lead = Picture(Labelled(section.design, ()))
    right = (_parts(section.parts, section.kinds),)
    return Section(
        "vfo",
        "VFO",
        (
            *limits,
            Beside(left, right, lead, (0.42, 0.5)),
            *_readings(section.verify, points),
            *signals(points),
            *_wound(section.windings, section.ends),
            *guidance,
        ),
    )


def read_out(section: ReadOutSection) -> Section:
    """The counter and what is stored in it."""
    step = (
        f"The display steps by {section.resolution}. Store the carrier as you measured it, not its nominal "
        "frequency."
    )
    told: tuple[Block, ...] = (*map(words, section.switching), words(step, "soft"))
    if section.helper is not None:
        told = (Beside((Picture(Labelled(section.helper)),), told, shares=(0.4,)),)
    return Section("vfo", "Read-out", (by_band(section.bands, section.figures), *told))


def by_band(bands: Sequence[str], figures: Sequence[tuple[str, tuple[str, ...]]]) -> Grid:
    """Figures that each band has of its own."""
    lines = tuple((name, *(text.replace(" -", " −") for text in texts)) for name, texts in figures)
    return grid(("", *map(spelling.band, bands)), lines, 1 + len(bands))


def _parts_of(section: FilterSection) -> Grid:
    """The parts of a circuit, with what they see at full power where that passes them."""
    if not section.stress:
        return _parts(section.parts, section.kinds)
    figures = STRESS[1:]
    columns = (*_PART[:-1], Column("kind, note"), *(Column(figure.title, right=True) for figure in figures))
    lines = []
    for part, kind in zip(section.parts, section.kinds, strict=True):
        each = section.stress_of(part.ref)
        seen = [figure.text(each) if each is not None else "" for figure in figures]
        lines.append(Line((*_part(part, kind), *seen)))
    return Grid(columns, tuple(lines))


#: Columns of a table of parts.
_PART = (
    Column("part"),
    Column("designed", right=True),
    Column("preferred", right=True),
    Column("as built", right=True),
    Column("kind, note", wide=True),
)


def _parts(parts: Sequence[PartRow], kinds: Sequence[str]) -> Grid:
    lines = tuple(Line(_part(*each)) for each in zip(parts, kinds, strict=True))
    return Grid(_PART, lines, folds=True)


def _part(part: PartRow, kind: str) -> tuple[str, ...]:
    built = BLANK if part.as_built is None else part_value(part.as_built, part.unit)
    values = (part_value(part.designed, part.unit), part_value(part.preferred, part.unit), built)
    return part.ref, *values, "; ".join(filter(None, (kind, part.note)))


def _readings(verify: Sequence[tuple[str, str]], points: Sequence[TestPoint]) -> tuple[Block, ...]:
    """What is measured at a stage but for signals, three to a line: figures to verify, then what it takes and
    shows at rest.
    """
    cells = [(name, value, BLANK) for name, value in verify]
    rest = [each for each in points if each.dc_a is not None or each.dc_v is not None]
    for each in rest:
        figure = _POINT["dc_v" if each.dc_a is None else "dc_a"]
        cells.append((_named(each), figure.text(each), BLANK))
    if not cells:
        return ()
    columns = (Column("to read", wide=True), Column("expected", right=True), Column("read", right=True))
    note = (words(_AT_REST, "soft", small=True, leads=True),) if rest else ()
    return *note, Grid(columns, tuple(map(Line, cells))).abreast(_ABREAST)


def _named(point: TestPoint) -> str:
    return point.words if point.way is None else f"{point.words}, {point.way}"


def signals(points: Sequence[TestPoint]) -> tuple[Block, ...]:
    """Levels, voltages and powers, in both directions and on every band."""
    lines = []
    for each in points:
        if each.level_dbm is None:
            continue
        band = spelling.band(each.band) if each.band else ""
        where = ", ".join(filter(None, (each.words, each.way or "", band)))
        keys = ("level_dbm", "power_w", "rms_v", "peak_to_peak_v", "load_ohm")
        lines.append((where, *(_POINT[key].text(each) for key in keys), BLANK))
    if not lines:
        return ()
    titles = ("test point", "level", "power", "rms", "peak to peak", "in", "read")
    put_in = tuple(dict.fromkeys(each.signal for each in points if each.signal))
    signal = f"Signals, with {' or '.join(put_in)}:"
    told = (words(signal, "soft", small=True, leads=True),) if put_in else ()
    return *told, grid(titles, tuple(lines))


def _free(coils: tuple[FreeCoil, ...]) -> tuple[Block, ...]:
    """How coils are checked for which no core was chosen."""
    if not coils:
        return ()
    told = "; ".join(
        f"{each.ref} {_WINDING['set_h'].written(each.set_h)}: "
        f"with {_WINDING['check_f'].written(each.check_f)} across it resonates at "
        f"{_WINDING['check_hz'].written(each.check_hz)}"
        for each in coils
    )
    return (words(f"Coils, on any core: {told}.", small=True),)


def windings(coils: tuple[Winding, ...]) -> tuple[Block, ...]:
    """How coils are wound, and how each is checked."""
    if not coils:
        return ()
    figures = had(coils)
    lines = tuple(
        (figure.title, *(figure.text(each).replace(" -", " −") for each in coils)) for figure in figures
    )
    titles = ("", *(each.ref for each in coils))
    damped = [each.ref for each in coils if not each.rings]
    checks = [_CHECK_COILS] if len(damped) < len(coils) else []
    if damped:
        checks.append(f"{', '.join(damped)}: {_CHECK_DAMPED}")
    return Heading("Coils to wind"), grid(titles, lines, len(titles)), words(" ".join(checks), "soft")


def _wound(coils: tuple[Winding, ...], ends: tuple[WindingEnds, ...]) -> tuple[Block, ...]:
    """How coils are wound, and beside that, where they are few, which way and what their ends go to: of all
    where cores are chosen, else of those that share one; these are drawn, too.
    """
    made, several = windings(coils), tuple(each for each in ends if each.of_several)
    told = ends if coils else several
    if not told:
        return made
    # Of windings inside a mixer no impedance is known.
    known = tuple(figure for figure in ENDS if any(figure.get(each) not in (None, "") for each in told))
    lines = tuple(tuple(figure.text(each) for figure in known) for each in told)
    table = grid(tuple(figure.title for figure in known), lines, len(ENDS) - 1)
    note = words(_DOTS, "soft", small=True, leads=True)
    drawn = (Picture(WindingsDrawn(several)),) if several else ()
    if made and len(coils) <= _FEW_COILS:
        return (Beside(made, (*drawn, note, table), shares=(_TITLES + _PER_COIL * len(coils),)),)
    if drawn and len(several) <= _MOST_BESIDE:
        return *made, Beside(drawn, (note, table), shares=(_PER_WINDING * len(several),))
    return *made, note, *drawn, table


def _placement(section: FilterSection) -> tuple[Block, ...]:
    if not section.placement:
        return ()
    lines = tuple(
        (str(each.mesh), each.ref, each.label, _PLACED["error_hz"].text(each)) for each in section.placement
    )
    return Heading("Crystals, as placed"), grid(
        ("mesh", "part", "crystal", _PLACED["error_hz"].title), lines, 3
    )
