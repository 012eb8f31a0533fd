"""Rules on filters that cannot be made, or come out otherwise than asked."""

from collections.abc import Iterator

from core.model.base import Path
from core.model.filters import LadderFilter
from core.rig.analysis import Analysis
from core.rig.findings import Finding, rule
from core.rig.rules import COMMON_PRACTICE
from core.stages.outcome import FilterDesign, PartRow, Unsolved, unused
from core.stages.tank import TankDesign

#: How far the ladder's −6 dB width may miss what was asked before it is worth saying, as a share [-].
_WIDTH_MISS = 0.15
#: Ladder loss beyond which crystals of better Q pay, dB.
_MUCH_LOSS_DB = 8.0


@rule
def cannot_be_made(analysis: Analysis) -> Iterator[Finding]:
    """A filter or a tank without a solution, with its reason."""
    for row in analysis.filters:
        for result in (row.design, row.figures):
            if isinstance(result, Unsolved):
                where = () if row.index is None else ("filters", row.index)
                yield Finding(
                    "fault",
                    "filter_unsolved",
                    row.stage,
                    row.bands[0] if row.index is not None and row.bands else "",
                    result.reason,
                    f"Change {row.name} as said; until then it counts as passing everything.",
                    "design equations of the filter",
                    ("stages", row.stage, *where),
                )
                break
    # A VFO through zero on every band is the frequency plan's fault to tell.
    if isinstance(analysis.tank, Unsolved) and any(plan.vfo_low_hz > 0 for plan in analysis.frequency_plan):
        yield Finding(
            "fault",
            "vfo_unsolved",
            "vfo",
            "",
            analysis.tank.reason,
            "Change the tank as said; until then nothing is known of its dial, drift and start-up.",
            "equations of the tank",
            ("vfo", "tank"),
        )


@rule
def ladder_width(analysis: Analysis) -> Iterator[Finding]:
    """Crystal loss and rounded capacitors narrow a ladder."""
    for row in analysis.filters:
        if row.kind != "ladder" or isinstance(row.figures, Unsolved):
            continue
        stage = analysis.project.stage(row.stage)
        width = row.figures.bandwidth_6db_hz
        if not isinstance(stage, LadderFilter) or width is None:
            continue
        if abs(width / stage.bandwidth_hz - 1) > _WIDTH_MISS:
            yield Finding(
                "caution",
                "ladder_width",
                row.stage,
                "",
                f"{row.name} is {width:.0f} Hz wide at −6 dB where {stage.bandwidth_hz:.0f} Hz was asked.",
                "Ask for more width, refine the design, or take crystals of better Q.",
                COMMON_PRACTICE,
                ("stages", row.stage, "bandwidth_hz"),
            )
        if row.figures.insertion_loss_db > _MUCH_LOSS_DB:
            yield Finding(
                "caution",
                "ladder_loss",
                row.stage,
                "",
                f"{row.name} loses {row.figures.insertion_loss_db:.1f} dB.",
                "Take fewer poles, more width, or crystals of better Q.",
                COMMON_PRACTICE,
                ("stages", row.stage, "poles"),
            )


@rule
def as_built_unknown(analysis: Analysis) -> Iterator[Finding]:
    """An as-built value for a part that the design does not have is a value nobody uses."""
    owners: list[tuple[str, str, str, Path, tuple[PartRow, ...]]] = [
        (
            row.stage,
            row.name,
            row.bands[0] if row.index is not None and row.bands else "",
            ("stages", row.stage, *(() if row.index is None else ("filters", row.index))),
            row.design.parts,
        )
        for row in analysis.filters
        if isinstance(row.design, FilterDesign)
    ]
    if isinstance(analysis.tank, TankDesign):
        owners.append(("vfo", "The VFO", "", ("vfo", "tank"), analysis.tank.parts))
    for stage, name, band, path, parts in owners:
        idle = unused(analysis.project.at((*path, "as_built")), parts)
        if idle:
            yield Finding(
                "caution",
                "as_built_unused",
                stage,
                band,
                f"{name} has as-built values for {', '.join(idle)}, which it does not have now.",
                "Clear them at the end of its parts table, or go back to the design they belong to.",
                "the project itself",
                path,
            )
