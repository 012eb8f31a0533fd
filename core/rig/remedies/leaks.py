"""Edits against what a mixer lets through besides what it converts, for `remedy.py` to try."""

from collections.abc import Iterator
from math import ceil

from core.model.project import Stage
from core.rig.analysis import Analysis
from core.rig.findings import Edit, Finding
from core.rig.mixer_facts import modulator
from core.rig.remedies import added
from core.rig.remedies.filters import more_rejection
from core.rig.remedies.parts import further_down_the_skirt
from core.rig.rules.transmit import BETTER
from core.stages.kinds.table import kind_of
from core.stages.mixers.drive import Balance

#: So much more than it should need a pad is made, dB.
_MOST_MORE_DB = 4
#: Gain of an RF stage that is put for what it isolates, dB.
_RF_STAGE_DB = 10.0


def better_balance(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """A modulator that is trimmed or matched better, then the carrier further away from the pass-band."""
    made = modulator(analysis, finding.band)
    if made is not None and isinstance(made.balance, Balance) and made.balance.measured_db is None:
        for fields, words in BETTER:
            changes = tuple((("stages", made.stage.id, name), value) for name, value in fields.items())
            yield Edit(words, changes)
    yield from further_down_the_skirt(analysis, finding)


def fewer_sent(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Matched devices in the mixer that sends, a sharper band-pass, less signal at the mixer."""
    path = analysis.project.path("transmit")
    yield from _matched(next((stage for stage in path if kind_of(stage).driver(stage) == "vfo"), None))
    yield from more_rejection(analysis, finding)


def terminated(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Behind a diode mixer a stage of three transistors, or a pad before the one that is there."""
    project = analysis.project
    after = project.stage(finding.subject)
    if kind_of(after).role == "amplifier" and "topology" in type(after).model_fields:
        path = ("stages", after.id, "topology")
        yield Edit(f"Build {after.name} of three transistors", ((path, "three_transistors"),))
    place = project.stages.index(after)
    least = max(ceil(finding.over_db / 2), 1)
    for loss_db in range(least, least + _MOST_MORE_DB + 1):
        yield added.pad(project, place, after.direction, loss_db, f"before {after.name}")


def _matched(mixer: Stage | None) -> Iterator[Edit]:
    """A mixer of matched devices, where that is a choice."""
    fields = {} if mixer is None else type(mixer).model_fields
    if mixer is None or "matching" not in fields or "matching" in mixer.idle_fields:
        return
    if mixer.at(("difference_v",)) is not None:
        return
    path = ("stages", mixer.id, "matching")
    yield Edit(f"Match the devices of {mixer.name}", ((path, "matched"),))


def less_at_antenna(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Matched devices, a stage before the mixer that lets little back, a sharper band-pass."""
    project = analysis.project
    mixer = project.stage(finding.stage)
    yield from _matched(mixer)
    place = project.stages.index(mixer)
    for stage in project.stages[:place]:
        amplifies = kind_of(stage).role == "amplifier" and stage.works_in("receive")
        if amplifies and not stage.in_path:
            yield Edit(f"Switch {stage.name} in", ((("stages", stage.id, "in_path"), True),))
    yield Edit(*added.rf_stage(project, place, _RF_STAGE_DB))
    yield from more_rejection(analysis, finding)
