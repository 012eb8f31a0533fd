"""Edits against what a mixer lets through besides what it converts, for `remedy.py` to try."""

from collections.abc import Iterator

from core.model.stages.amplifiers import Amplifier
from core.rig.analysis import Analysis
from core.rig.findings import Edit, Finding
from core.rig.remedies.filters import more_rejection
from core.rig.start.amplifiers import AT_RF, built
from core.stages.kinds.table import kind_of

#: Gain of an RF stage that is put for what it isolates, dB.
_RF_STAGE_DB = 10.0


def less_at_antenna(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Matched devices, a stage before the mixer that lets little back, a sharper band-pass."""
    project = analysis.project
    mixer = project.stage(finding.stage)
    fields = type(mixer).model_fields
    if "matching" in fields and "matching" not in mixer.idle_fields and mixer.at(("difference_v",)) is None:
        path = ("stages", mixer.id, "matching")
        yield Edit(f"Match the devices of {mixer.name}", ((path, "matched"),))
    path_in = list(project.stages)
    place = path_in.index(mixer)
    for stage in path_in[:place]:
        amplifies = kind_of(stage).role == "amplifier" and stage.works_in("receive")
        if amplifies and not stage.in_path:
            yield Edit(f"Switch {stage.name} in", ((("stages", stage.id, "in_path"), True),))
    at_hz = float(f"{max(band.high_hz for band in project.bands):.3g}")
    block = Amplifier(
        id=project.free_key("rf_stage"), name="RF stage", direction="receive", gain_db=_RF_STAGE_DB
    )
    stages = (*path_in[:place], built(block, at_hz, AT_RF), *path_in[place:])
    yield Edit(f"Put an RF stage of {_RF_STAGE_DB:.0f} dB before the mixer", ((("stages",), stages),))
    yield from more_rejection(analysis, finding)
