"""The bag of crystals on the bench: what its readings make of them, and which go where in the ladder."""

from core.model.bench import CrystalBatch
from core.model.stages.filters import LadderFilter
from core.model.values.errors import CopperError
from core.record import record
from core.rig.analysis import Analysis
from core.rig.bench import crystal_bench, crystals_in_ladder
from core.rig.bench.crystal_bench import BatchRow
from core.rig.bench.kept import kept
from core.stages.crystals.crystal_choice import Placement
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.outcome import Unsolved

#: Points of sweeps that are fitted while the builder waits.
_AT_ONCE = 5_000
#: What stands for a crystal's label until its sweep is fitted.
BEING_FITTED = "being fitted"


@record
class Bag:
    """The crystals of a batch, or why its table cannot be read; neither: there are no readings."""

    rows: tuple[BatchRow, ...]
    reason: str = ""


def bag_of(analysis: Analysis) -> Bag:
    """The crystals of a project's readings."""
    return _read(analysis.project.crystal_batch)


def placement_of(analysis: Analysis) -> Placement | Unsolved | None:
    """Which of them go into which mesh of the rig's ladder; None without crystals or without a ladder."""
    ladder = analysis.ladder
    if ladder is None or not bag_of(analysis).rows:
        return None
    return _placed(analysis.project.crystal_batch, analysis.asked(ladder))


def unfitted(batch: CrystalBatch) -> int:
    """How many sweeps are to be fitted before the batch can be told; 0 where that is done as one waits."""
    sweeps = crystal_bench.to_fit(batch)
    return len(sweeps) if sum(len(each.f_hz) for each in sweeps) > _AT_ONCE else 0


def standing_in(analysis: Analysis, ladder: LadderFilter) -> dict[str, str]:
    """The labels of the measured crystals that a ladder is built of, by reference of their places.

    While many sweeps are to be fitted nobody waits for them: `BEING_FITTED` stands for the labels.
    """
    if not ladder.as_built:
        return {}
    if unfitted(analysis.project.crystal_batch):
        return dict.fromkeys(crystals_in_ladder.crystals_built(ladder), BEING_FITTED)
    return crystals_in_ladder.labels(bag_of(analysis).rows, ladder)


# Readings are worked out once, not at every turn of the IF: the present design's and the held one's.
@kept(4)
def _read(batch: CrystalBatch) -> Bag:
    try:
        return Bag(crystal_bench.batch_of(batch))
    except CopperError as error:
        return Bag((), str(error))


@kept(4)
def _placed(batch: CrystalBatch, asked: AskedLadder) -> Placement | Unsolved:
    return crystals_in_ladder.place(_read(batch).rows, asked)
