"""What stands first: the title block, notes, cautions, contents, frequency plan and carriers."""

from app.sheet.content.blocks import (
    BLANK,
    Beside,
    Block,
    Column,
    Contents,
    Grid,
    Heading,
    Labelled,
    Line,
    Picture,
    Run,
    Section,
    Words,
    grid,
    words,
)
from app.sheet.content.stages import signals, windings
from app.style import words as spelling
from core.rig.figures.figure import keyed
from core.rig.figures.plan import CARRIER, PLAN
from core.rig.paper.sheet_model import BuildSheet
from core.rig.workshop.test_points import at_stage

_PLAN, _CARRIER = keyed(PLAN), keyed(CARRIER)


def title(sheet: BuildSheet, printed: str) -> Section:
    """The title block with the rig's facts, its notes, cautions, and what stands on which page."""
    facts: tuple[Block, ...] = tuple(
        Words((Run(f"{name}: ", "soft"), Run(value))) for name, value in sheet.facts
    )
    about = (
        words("Copperclad build sheet", "soft"),
        Words((Run("revision ", "soft"), Run(sheet.revision, "strong"), Run(f", printed {printed}", "soft"))),
        words(
            "The revision is a digest of the design: another one stands on the sheet of another design.",
            "soft",
        ),
    )
    notes = tuple(words(line) for line in sheet.notes.splitlines() if line.strip())
    cautions = tuple(words(each, mark="•") for each in sheet.cautions)
    return Section(
        "",
        "",
        (
            Heading(sheet.name, 1),
            Beside(about, facts, shares=(0.42,)),
            *notes,
            Beside(
                (Heading("Before you switch on"), *cautions),
                (Heading("On these pages"), Contents()),
                shares=(0.5,),
            ),
        ),
    )


def plan(sheet: BuildSheet) -> Section:
    """Where everything oscillates on each band."""
    keys = ("dial", "vfo", "carrier_hz", "image")
    titles = ("band", "scheme", *(f"{_PLAN[key].title}, MHz" for key in keys), "sideband")
    lines = tuple(
        Line(
            (
                spelling.band(each.band),
                spelling.choice(each.scheme),
                *(_in_mhz(_PLAN[key].text(each)) for key in keys),
                f"{each.sideband}{', turned over' if each.sideband_inverted else ''}",
            )
        )
        for each in sheet.plan
    )
    columns = tuple(Column(name, n in range(2, 6)) for n, name in enumerate(titles))
    blocks: tuple[Block, ...] = (Grid(columns, lines),)
    return Section("plan", "Frequency plan", (*blocks, *_carriers(sheet)))


def _carriers(sheet: BuildSheet) -> tuple[Block, ...]:
    if not sheet.carriers:
        return ()
    lines = []
    for each in sheet.carriers:
        row, pulling = each.row, each.row.pulling
        coil = trimmer = reach = ""
        if pulling is not None:
            coil = _CARRIER["coil_h"].text(each) if pulling.coil_h else "none"
            coil += ", automatic" if each.automatic else ""
            trimmer = _CARRIER["trimmer_f"].text(each) if pulling.trimmer_f else "out of reach"
            reach = _in_mhz(_CARRIER["reachable"].text(each))
        bands = " and ".join(map(spelling.band, row.bands))
        place = f"{row.sideband} on {bands}, {row.place.side} the filter"
        lines.append((place, _in_mhz(_CARRIER["frequency_hz"].text(each)), coil, trimmer, reach, BLANK))
    titles = (
        "sideband at the IF, the carrier's side",
        f"{_CARRIER['frequency_hz'].title}, MHz",
        _CARRIER["coil_h"].title,
        _CARRIER["trimmer_f"].title,
        f"{_CARRIER['reachable'].title}, MHz",
        "as set",
    )
    return Heading("Carrier oscillator"), grid(titles, tuple(lines)), *_carrier_circuits(sheet)


def _carrier_circuits(sheet: BuildSheet) -> tuple[Block, ...]:
    """One circuit as wide as it is, two beside each other."""
    drawn = [(words(each.title, "soft"), Picture(Labelled(each))) for each in sheet.crystals]
    apart = any(each.stage == "carrier" for each in sheet.oscillators)
    own = () if apart else at_stage(sheet.points, "carrier")
    points = (*windings(sheet.carrier_coils), *signals(own))
    if len(drawn) == 2:
        return Beside(drawn[0], drawn[1], shares=(0.5,)), *points
    return tuple(block for each in drawn for block in each) + points


def _in_mhz(text: str) -> str:
    """A frequency below a head that has the unit."""
    return text.removesuffix(" MHz")
