"""Measured crystals in a rig's ladder: which goes where, put in as built, and the ladder made for them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from core.model.project import Project
from core.model.stages.filters import Crystal, LadderFilter
from core.model.values.notation import format_value, megahertz, significant
from core.model.values.parts import crystal_keys, key
from core.rig.bench.batch_figures import figures
from core.rig.bench.crystal_bench import BatchRow
from core.rig.plan.surroundings import surroundings
from core.stages.crystals import crystal_choice
from core.stages.crystals.crystal_choice import Judge, Placed, Placement
from core.stages.crystals.crystals import CrystalParameters
from core.stages.filters import ladder_filter
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.kinds.filters import asked_ladder
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved

#: Crystals this far from the IF, as a share of it [-], are for another filter.
_OTHER_CRYSTALS = 0.005
#: And motional inductances this far from the design's, as a share of it, want another design [-].
_OTHER_INDUCTANCE = 0.1
#: A Q this many times the design's or less [-], and a median this many widths beside its crystals [-]: the
#: filter is then found elsewhere and rounder than it was designed.
_OTHER_Q, _BESIDE = 1.3, 0.5
#: Times the crystals are chosen anew for a design that was made for those chosen before.
_CHOICES = 5


def usable(batch: Sequence[BatchRow]) -> tuple[CrystalParameters, ...]:
    """The crystals of a batch that may be chosen: read well, and not ticked out."""
    return tuple(row.parameters for row in batch if row.parameters is not None and not row.left_out)


def bare(ladder: LadderFilter) -> LadderFilter:
    """The ladder without the crystals that were put into it."""
    gone = {each for _, place in _places(ladder) for each in crystal_keys(place)}
    kept = {part: value for part, value in ladder.as_built if part not in gone}
    return ladder.edited(("as_built",), kept)


def place(batch: Sequence[BatchRow], asked: AskedLadder) -> Placement | Unsolved:
    """Which crystals go into which mesh of a ladder.

    `Unsolved` when the ladder is, or when there are too few. Crystals of another frequency are placed all
    the same, and the placement's doubt says so.
    """
    asked = replace(asked, ladder=bare(asked.ladder))
    ladder = asked.ladder
    made = ladder_filter.design(asked)
    wanted = ladder_filter.mesh_reactances(asked)
    if isinstance(made, Unsolved):
        return made
    if isinstance(wanted, Unsolved):
        return wanted
    good = usable(batch)
    low, high = ladder_filter.asked_band_hz(ladder, made)
    judge = Judge(made.network, low, high, tuple(ref for refs in ladder.crystal_refs for ref in refs))
    found = crystal_choice.place(good, np.array(wanted), ladder.crystal_refs, judge)
    if isinstance(found, Unsolved):
        return found
    doubts = [_of_another_kind(good, asked), _barely_chosen(good, found, batch)]
    return replace(found, doubt=" ".join(each for each in doubts if each))


def _of_another_kind(good: Sequence[CrystalParameters], asked: AskedLadder) -> str:
    """A sentence when the ladder was designed for other crystals than these."""
    ladder, if_hz = asked.ladder, asked.if_hz
    middle = float(np.median([each.fs_hz for each in good]))
    if abs(middle - if_hz) > _OTHER_CRYSTALS * if_hz:
        return (
            f"These crystals resonate near {megahertz(middle)} and the IF is {megahertz(if_hz)}: set "
            "the IF to the crystals, or choose the ladder that they are for."
        )
    assert ladder.crystal is not None  # a ladder without crystals has no design
    lm, designed = float(np.median([each.lm_h for each in good])), ladder.crystal.motional_inductance_h
    losses = [1 / each.q for each in good if each.q is not None]
    # Losses add up along the ladder, so their median counts.
    q = 1 / float(np.median(losses)) if losses else ladder.crystal.quality_factor
    beside = middle - if_hz - ladder.crystal.offset_hz
    unlike = []
    if abs(lm / designed - 1) > _OTHER_INDUCTANCE:
        unlike.append(f"Lm {format_value(lm, 'H', 3)}, not {format_value(designed, 'H', 3)}")
    if not 1 / _OTHER_Q < q / ladder.crystal.quality_factor < _OTHER_Q:
        unlike.append(f"Q {q / 1e3:.0f} 000, not {ladder.crystal.quality_factor / 1e3:.0f} 000")
    if abs(beside) > _BESIDE * ladder.bandwidth_hz:
        unlike.append(f"{abs(beside) / 1e3:.2g} kHz {'above' if beside > 0 else 'below'} those of the design")
    if not unlike:
        return ""
    return f"The ladder is designed for other crystals (these: {'; '.join(unlike)}): design it for these."


def _barely_chosen(good: Sequence[CrystalParameters], found: Placement, batch: Sequence[BatchRow]) -> str:
    """A sentence when crystals far out had to be taken."""
    known = figures(batch)
    far = {label for label, _ in known.outliers} if known else set()
    taken = [each.label for each in found.placed if each.label in far]
    if not taken:
        return ""
    verbs = ("lies", "was") if len(taken) == 1 else ("lie", "were")
    return (
        f"{', '.join(taken)} {verbs[0]} far out and {verbs[1]} taken for want of better ones; measure more "
        "crystals or take fewer poles."
    )


def designed_for(project: Project, stage: str, batch: Sequence[BatchRow]) -> Project | Unsolved:
    """The rig with the ladder `stage` and the IF made for the crystals of a batch, and the best put in.

    Lm, C0 and Q of the design, and the IF, are the mean of the crystals that are chosen, first for a design
    of the whole batch's mean. Where the choice does not settle, it is the mean of the last but one. One new
    project, so one undo.
    """
    if not usable(batch):
        return Unsolved("There are no good crystals in the readings; read some first.")
    chosen = usable(batch)
    for _ in range(_CHOICES):
        found = _placed_anew(project, stage, batch, chosen)
        if isinstance(found, Unsolved):
            return found
        designed, placement = found
        # Others may be best in the new design; what is put in is always the best choice for its own design.
        labels = {each.label for each in placement.placed}
        former, chosen = chosen, tuple(each for each in usable(batch) if each.label in labels)
        if chosen == former:
            break
    return fit_in(designed, stage, batch, placement)


def _placed_anew(
    project: Project,
    stage: str,
    batch: Sequence[BatchRow],
    like: Sequence[CrystalParameters],
) -> tuple[Project, Placement] | Unsolved:
    """The rig designed for the mean of some crystals, and the best of a batch for that design."""
    project = _with_crystals(project, stage, like)
    around = surroundings(project)
    placement = place(batch, asked_ladder(_ladder(project, stage), around))
    return placement if isinstance(placement, Unsolved) else (project, placement)


def _with_crystals(project: Project, stage: str, chosen: Sequence[CrystalParameters]) -> Project:
    """The rig with the ladder designed for the mean of some crystals and the IF at their series resonance."""
    ladder = _ladder(project, stage)
    crystal = ladder.crystal or Crystal()
    figures = {
        "motional_inductance_h": float(np.mean([c.lm_h for c in chosen])),
        "holder_capacitance_f": float(np.mean([c.c0_f for c in chosen])),
    }
    losses = [1 / c.q for c in chosen if c.q is not None]
    if losses:
        # Losses add up along the ladder, so their mean counts, not that of Q.
        figures["quality_factor"] = float(1 / np.mean(losses))
    for name, value in figures.items():
        # More digits than anybody can measure would only be read.
        crystal = crystal.edited((name,), significant(value, 4))
    project = project.edited(("stages", stage), bare(ladder).edited(("crystal",), crystal))
    mean_hz = float(np.mean([c.fs_hz for c in chosen]))
    return project.edited(("if_hz",), round(mean_hz - crystal.offset_hz))


def fit_in(project: Project, stage: str, batch: Sequence[BatchRow], placement: Placement) -> Project:
    """The rig with the placed crystals as built in the ladder `stage`: each with its own fs, Lm, C0, Q."""
    known = {row.label: row.parameters for row in batch}
    ladder = _ladder(project, stage)
    built, places = dict(bare(ladder).as_built), dict(_places(ladder))
    for each in placement.placed:
        crystal = known[each.label]
        if crystal is None:
            continue
        figures = {"": crystal.fs_hz, "lm": crystal.lm_h, "c0": crystal.c0_f, "q": crystal.q}
        for figure, value in figures.items():
            if value is not None:
                built[key("crystal", places[each.ref], figure)] = value
    return project.edited(("stages", stage, "as_built"), built)


def labels(batch: Sequence[BatchRow], ladder: LadderFilter) -> dict[str, str]:
    """The label of the batch's crystal that stands as built in each place, by reference."""
    return {ref: crystal.label for ref, crystal in _standing(batch, ladder).items()}


def crystals_built(ladder: LadderFilter) -> list[str]:
    """References of the places where a crystal stands as built."""
    built = dict(ladder.as_built)
    return [ref for ref, place in _places(ladder) if key("crystal", place) in built]


def _standing(batch: Sequence[BatchRow], ladder: LadderFilter) -> dict[str, CrystalParameters]:
    """The crystals of the batch that stand in the ladder as built, by reference."""
    good = [row.parameters for row in batch if row.parameters is not None]
    built = dict(ladder.as_built)
    found: dict[str, CrystalParameters] = {}
    for ref, place in _places(ladder):
        fs_hz, lm_h = (built.get(key("crystal", place, figure)) for figure in ("", "lm"))
        if fs_hz is None:
            continue
        # Two may read alike; the motional inductance, and that none stands twice, tell them apart.
        like = [c for c in good if c not in found.values() and abs(c.fs_hz - fs_hz) < _SAME_HZ]
        if like:
            found[ref] = min(like, key=lambda c: 0.0 if lm_h is None else abs(c.lm_h - lm_h))
    return found


def _ladder(project: Project, stage: str) -> LadderFilter:
    found = project.stage(stage)
    ladder = kind_of(found).ladder(found)
    assert ladder is not None  # crystals are put into ladders only
    return ladder


def _places(ladder: LadderFilter) -> tuple[tuple[str, int | str], ...]:
    """Reference and place of every crystal of a ladder."""
    return tuple(
        pair
        for refs, places in zip(ladder.crystal_refs, ladder.crystal_places, strict=True)
        for pair in zip(refs, places, strict=True)
    )


#: Two readings of series resonance this near are the same crystal, Hz; a file keeps every digit.
_SAME_HZ = 0.01


def fitted(batch: Sequence[BatchRow], asked: AskedLadder) -> tuple[Placed, ...]:
    """Which crystal of the batch stands in which mesh as built, and how far its mesh lies from their mean.

    Crystals are known again by series resonance and inductance. Empty for a ladder that is not wholly
    built of crystals of this batch.
    """
    ladder, wanted = asked.ladder, ladder_filter.mesh_reactances(asked)
    standing = _standing(batch, ladder)
    places = [(mesh, ref) for mesh, refs in enumerate(ladder.crystal_refs, start=1) for ref in refs]
    if isinstance(wanted, Unsolved) or len(standing) < len(places):
        return ()
    chosen = [standing[ref] for _, ref in places]
    lies = np.diagonal(crystal_choice.mesh_frequencies(chosen, np.array(wanted)))
    return tuple(
        Placed(mesh, each.label, float(error), ref)
        for (mesh, ref), each, error in zip(places, chosen, lies - lies.mean(), strict=True)
    )
