"""The bag of crystals on the bench: its readings, its crystals, their place in the ladder, their spread."""

from collections.abc import Sequence

from app.pictures.bench.crystal_lines import CrystalLine, lines_of
from app.pictures.bench.histogram import HistogramPicture
from app.pictures.figures import Frame, Label
from app.pictures.told import Told, in_columns
from core.model.bench import CrystalBatch
from core.model.project import Project
from core.record import record
from core.rig.analysis import Analysis
from core.rig.bag import bag_of, placement_of
from core.rig.bench import batch_figures, crystal_bench
from core.rig.bench.batch_figures import BatchFigures
from core.rig.bench.crystal_bench import BatchRow
from core.rig.bench.crystal_guidance import guidance
from core.rig.figures.crystals import BATCH, FS, PLACEMENT, RESPONSES
from core.rig.figures.figure import keyed
from core.stages.crystals.crystal_choice import Placement
from core.stages.outcome import Unsolved


@record
class Outcome:
    """What came of what the builder did last: of an import of sweeps, told beside what there is of the batch
    it made; or why nothing was done, told alone while the design stays as it was.
    """

    text: str
    of: CrystalBatch | Project


@record(kw_only=True)
class CrystalsPicture:
    """What the page of crystals shows beside the fixture's form."""

    batch: CrystalBatch
    guidance: str
    #: A header row with which a table of this method begins.
    example: str
    headless: bool
    lines: tuple[CrystalLine, ...]
    #: Whether the crystals have their places, so that they can be put in.
    placed: bool
    choices: Told
    summary: str
    histogram: HistogramPicture | str


def waiting(analysis: Analysis, summary: str) -> CrystalsPicture:
    """What the page shows while sweeps are fitted or libraries loaded, which its summary tells."""
    batch = analysis.project.crystal_batch
    return CrystalsPicture(
        batch=batch,
        guidance=guidance(batch.method, crystal_bench.fixture_of(batch)),
        example=crystal_bench.example(batch.method),
        headless=False,
        lines=(),
        placed=False,
        choices=in_columns(RESPONSES, ()),
        summary=summary,
        histogram="The histogram appears when the crystals are known.",
    )


def picture_of(analysis: Analysis, told: Outcome, *, by_mesh: bool) -> CrystalsPicture:
    """What the page shows of a design, the crystals as they were read or in the order of the ladder."""
    batch = analysis.project.crystal_batch
    bag, found = bag_of(analysis), placement_of(analysis)
    placement = found if isinstance(found, Placement) else None
    figures = batch_figures.figures(bag.rows)
    example = crystal_bench.example(batch.method)
    reason = found.reason if isinstance(found, Unsolved) else bag.reason
    if not batch.readings and not batch.draft:
        reason = f"Paste a table of readings on the left, or begin with “Insert header”: {example}"
    summary = (
        _statistics(figures, bag.rows),
        batch_figures.c0_too_small(bag.rows),
        _verdict(placement),
        reason,
        told.text if told.of == batch else "",
    )
    return CrystalsPicture(
        batch=batch,
        guidance=guidance(batch.method, crystal_bench.fixture_of(batch)),
        example=example,
        headless=not batch.readings and crystal_bench.with_header(batch.draft, batch.method) != batch.draft,
        lines=lines_of(
            bag.rows,
            {each.label: each.mesh for each in placement.placed} if placement else {},
            dict(figures.outliers) if figures else {},
            by_mesh=by_mesh,
        ),
        placed=placement is not None,
        choices=in_columns(RESPONSES, placement.figures if placement else ()),
        summary=told.text if told.of == analysis.project else " ".join(text for text in summary if text),
        histogram=_histogram(bag.rows),
    )


def _statistics(found: BatchFigures | None, batch: Sequence[BatchRow]) -> str:
    if found is None:
        return ""
    told, out = keyed(BATCH), {row.label for row in batch if row.left_out}
    far = ", ".join(f"{label} ({what})" for label, what in found.outliers if label not in out)
    far = f" Far out: {far}." if far else ""
    left = f", {len(out)} left out" if out else ""
    return (
        f"{found.count} crystals{left}; fs spread over {told['spread_hz'].text(found)}, deviation "
        f"{told['fs_deviation_hz'].text(found)}; "
        f"Lm {told['lm_mean_h'].text(found)} ± {told['lm_deviation_h'].text(found)}.{far}"
    )


def _verdict(placement: Placement | None) -> str:
    if placement is None:
        return ""
    rms, ordered, random = (figure.text(placement) for figure in PLACEMENT)
    return (
        f"So placed the meshes lie {rms} rms apart; the closest ones merely sorted {ordered}, at random "
        f"{random}. {placement.doubt}"
    ).strip()


def _histogram(batch: Sequence[BatchRow]) -> HistogramPicture | str:
    found = batch_figures.histogram(batch)
    if found is None:
        return "The histogram appears with the second good crystal."
    edges = tuple(float(each) for each in found.edges_hz)
    top = float(found.counts.max())
    labels = [
        Label(0.0, top * 1.38, f"median {FS.written(found.median_hz)}", "soft", side="below", importance=2)
    ]
    for count, edge, side in ((found.below, edges[0], "right"), (found.above, edges[-1], "left")):
        if count:
            where = "below" if side == "right" else "above"
            labels.append(
                Label(edge, top * 1.1, f"{count} further {where}", "caution", side=side, importance=3)
            )
    return HistogramPicture(
        title="fs less the median, Hz",
        counted="crystals",
        edges=edges,
        counts=tuple(float(each) for each in found.counts),
        labels=tuple(labels),
        frame=Frame((edges[0], edges[-1]), (0.0, top * 1.4), edges),
    )
