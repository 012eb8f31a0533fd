"""Edits of the filters and of the VFO's tank, the least first, for `remedy.py` to try."""

from collections.abc import Iterator

from core.model.stages.filters import BandPassFilter, LowPassFilter
from core.model.values.base import Path
from core.model.values.errors import DesignError
from core.model.values.notation import format_value, significant
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.findings import Edit, Finding
from core.rig.start.new_rig import with_tank
from core.stages.kinds.filters import LOW_PASS
from core.stages.kinds.table import kind_of

#: Widths of a band-pass that are tried, times its own.
_NARROWER = (0.9, 0.8, 0.7, 0.6)
#: Resonators more, at most.
_MORE = 2


def cleaner(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """A low-pass of higher order, one that the signal goes round put in, or one where there is none."""
    project = analysis.project
    stages = [stage for stage in project.stages if kind_of(stage).role == "low_pass"]
    for stage in stages:
        if not stage.in_path:
            yield Edit(f"Switch {stage.name} in", ((("stages", stage.id, "in_path"), True),))
    for stage in stages:
        for member in stage.members:
            one = member.asked
            if isinstance(one, LowPassFilter) and finding.band in one.bands:
                for order in (one.order + 2, one.order + 4):
                    path = (*member.path_in(stage.id), "order")
                    yield Edit(f"Make {stage.name} of order {order} on {_on(one.bands)}", ((path, order),))
    if not stages:
        fresh = LOW_PASS.default(project.bands, project.if_hz)
        fresh = fresh.edited(("id",), project.free_key(fresh.id))
        yield Edit("Put a low-pass at the antenna", ((("stages",), (fresh, *project.stages)),))


def more_rejection(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """A band-pass with a resonator more, a narrower one, or both."""
    for stage in analysis.project.stages:
        for member in stage.members:
            one = member.asked
            if not isinstance(one, BandPassFilter) or finding.band not in one.bands:
                continue
            base = member.path_in(stage.id)
            for share in _NARROWER[:1]:
                yield _changed(stage.name, one, base, one.resonators, share)
            for more in range(1, _MORE + 1):
                for share in (1.0, *_NARROWER):
                    yield _changed(stage.name, one, base, one.resonators + more, share)
            for share in _NARROWER[1:]:
                yield _changed(stage.name, one, base, one.resonators, share)


def other_tank(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Other ordinary parts for the ranges that the VFO must tune."""
    try:
        changed = with_tank(analysis.project)
    except DesignError:
        return
    yield Edit(
        "Take ordinary parts for these ranges of the VFO",
        ((("bands",), changed.bands), (("vfo", "tank"), changed.vfo.tank)),
    )


def _changed(name: str, one: BandPassFilter, base: Path, resonators: int, share: float) -> Edit:
    width = significant(share * one.bandwidth_hz, 2)
    changes: list[tuple[Path, object]] = []
    told = []
    if resonators != one.resonators:
        changes.append(((*base, "resonators"), resonators))
        told.append(f"{resonators} resonators")
    if share != 1.0:
        changes.append(((*base, "bandwidth_hz"), width))
        told.append(f"{format_value(width, 'Hz', 2)} of width")
    return Edit(f"Give {name} {' and '.join(told)} on {_on(one.bands)}", tuple(changes))


def _on(bands: tuple[str, ...]) -> str:
    return " and ".join(map(spelled, bands))
