"""Rules on what was put by hand on boards and panels; what is placed automatically is in nobody's way."""

from collections.abc import Collection, Iterator
from dataclasses import replace

from core.model.boards.board import Board
from core.model.values.errors import DesignError
from core.rig.analysis import Analysis
from core.rig.board.boards import SUPPLY, VFO, StageBoard, board_of
from core.rig.board.edits import freed
from core.rig.board.panels import as_proposed, panel_clashes
from core.rig.findings import COMMON_PRACTICE, Edit, Finding, rule
from core.rig.rows import OSCILLATORS


@rule
def board_clashes(analysis: Analysis) -> Iterator[Finding]:
    """Nothing on a board may lie on anything else, nor a lead touch what it must not."""
    for place, board in _by_hand(analysis):
        if board.clashes:
            first, more = board.clashes[0], len(board.clashes) - 1
            keys = {key for clash in board.clashes for key in clash.keys}
            yield Finding(
                severity="caution",
                rule="board_clash",
                stage=board.stage,
                band=board.bands[0] if board.bands else "",
                path=("boards", place),
                words=f"{_on(board)}: {first.told}{f', and {more} more such' if more else ''}.",
                remedy="Move one of them, or let what was put there by hand be placed automatically.",
                source=COMMON_PRACTICE,
                edits=_placed_again(analysis, board, keys),
            )


@rule
def long_leads(analysis: Analysis) -> Iterator[Finding]:
    """A bare lead is a coil."""
    for place, board in _by_hand(analysis):
        if board.long_leads:
            worst = max(board.long_leads, key=lambda lead: lead.length_m / lead.limit_m)
            yield Finding(
                severity="note",
                rule="long_lead",
                stage=board.stage,
                band=board.bands[0] if board.bands else "",
                path=("boards", place),
                words=f"{_on(board)} a lead of {worst.ref} is <figure> long, where <limit> is much.",
                figure=worst.length_m,
                limit=worst.limit_m,
                unit="m",
                shown="2",
                remedy=f"Move {worst.ref} nearer to its islands, or let it be placed automatically.",
                source=f"{COMMON_PRACTICE}; at some nanohenry a millimetre",
                edits=_placed_again(analysis, board, {lead.key for lead in board.long_leads}),
            )


@rule
def panels(analysis: Analysis) -> Iterator[Finding]:
    """Fittings need room before and behind their panel, and its edge some metal."""
    for n, panel in enumerate(analysis.project.panels):
        found = panel_clashes(panel)
        if found:
            more = len(found) - 1
            rest = as_proposed(analysis.project, panel.side).panels
            yield Finding(
                severity="caution",
                rule="panel_clash",
                subject=panel.side,
                path=("panels", n),
                words=f"On the {panel.side} panel: {found[0].told}"
                f"{f', and {more} more such' if more else ''}.",
                remedy="Move it on the board plan's page, or take the panel as it is proposed.",
                source=COMMON_PRACTICE,
                edits=(Edit(f"Take the {panel.side} panel as it is proposed", ((("panels",), rest),)),),
            )


def _by_hand(analysis: Analysis) -> Iterator[tuple[int, StageBoard]]:
    """The boards on which something was put by hand and that can be laid out, by their number."""
    for n, held in enumerate(analysis.project.boards):
        if _known(analysis, held):
            try:
                yield n, board_of(analysis, held.stage, held.band)
            except DesignError:
                continue


def _known(analysis: Analysis, held: Board) -> bool:
    known = {stage.id for stage in analysis.project.stages}
    return held.stage in {VFO, SUPPLY, *OSCILLATORS, *known}


def _on(board: StageBoard) -> str:
    return f"On the board of {board.title}"


def _placed_again(analysis: Analysis, board: StageBoard, keys: Collection[str]) -> tuple[Edit, ...]:
    """What mends a board: those of the things that were put by hand, or if that is not enough all of them."""
    project = analysis.project
    for gone, label in (
        (keys, f"Place what is in the way on the board of {board.title} again"),
        (None, f"Place everything on the board of {board.title} again"),
    ):
        rest = () if gone is None else tuple(each for each in board.by_hand if each.key not in gone)
        tried = replace(board, by_hand=rest)
        if not tried.clashes and not tried.long_leads:
            changed = freed(project, board.stage, board.bands, gone)
            return (Edit(label, ((("boards",), changed.boards),)),)
    return ()
