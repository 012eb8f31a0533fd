"""Edits of one field that spare a new rig a caution: tried one by one, kept where the caution goes."""

from collections.abc import Callable, Iterator

from core.model.project import Project
from core.model.stages.filters import BandPassFilter
from core.rig.analysis import Analysis
from core.rig.rules.filters import band_pass_loss, return_loss
from core.rig.rules.oscillators import vfo_tunes_fast
from core.rig.rules.receive import band_noise, loud_audio, overload
from core.rig.rules.spurs import image_and_if, other_responses
from core.stages.filters import ladder_cures
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved

#: Fewer poles than this make another filter.
_FEWEST_POLES = 6
#: Widths of a band-pass that are tried, times the ordinary one.
_NARROWER = (0.95, 0.9, 0.85, 0.8)
#: Two planetary drives in series, 6:1 and 10:1 [-]; from memory.
_SLOW_DRIVE = 60.0
#: Decibels that are taken out of the receiver at most.
_MOST_DB = 6

_WATCHED = (overload, loud_audio, band_noise, other_responses, image_and_if, band_pass_loss, return_loss)


def spared(rig: Project) -> Project:
    """The rig with those edits of one field that take a caution away and bring no other.

    Fewer poles where the crystals' loss makes the ladder too narrow, a narrower band-pass where it does not
    keep another input out.
    """
    rig = _with_wide_ladder(rig)
    return _edited(rig, ("response_far", "image_rejection", "if_breakthrough"), _narrower)


def with_headroom(rig: Project) -> Project:
    """The rig with less gain where loud signals are too much; last, as every circuit adds to its levels."""
    return _edited(rig, ("overload", "loud_audio"), _less_gain)


def with_slow_dial(rig: Project) -> Project:
    """The rig with more reduction on its VFO's knob, where that makes a dial that is too fast easy to set."""
    if rig.vfo.tank is None or not any(vfo_tunes_fast(Analysis(rig))):
        return rig
    slowed = rig.edited(("vfo", "tank", "variable", "reduction"), _SLOW_DRIVE)
    return rig if any(vfo_tunes_fast(Analysis(slowed))) else slowed


def _with_wide_ladder(rig: Project) -> Project:
    for stage in rig.stages:
        ladder = kind_of(stage).ladder(stage)
        if ladder is None:
            continue
        for poles in range(ladder.poles, _FEWEST_POLES - 1, -1):
            tried = rig.edited(("stages", ladder.id, "poles"), poles)
            analysis, fewer = Analysis(tried), ladder.edited(("poles",), poles)
            figures = analysis.filter_figures(ladder.id, rig.bands[0].name)
            if isinstance(figures, Unsolved):
                break
            if "width" not in ladder_cures.misses(analysis.asked(fewer), figures):
                rig = tried
                break
    return rig


_Trials = Callable[[Project, str], Iterator[Project]]


def _edited(rig: Project, rules: tuple[str, ...], trials: _Trials) -> Project:
    """The rig with the first trial for each band that has a caution of these rules which takes it away."""
    for band in rig.bands:
        before = _cautions(rig)
        wanted = {each for each in before if each[0] in rules and each[1] in (band.name, "")}
        if not wanted:
            continue
        found = (trial for trial in trials(rig, band.name) if _cautions(trial) <= before - wanted)
        rig = next(found, rig)
    return rig


def _cautions(rig: Project) -> set[tuple[str, str]]:
    """Rule and band of what is told of the rig beyond notes."""
    analysis = Analysis(rig)
    found = (each for rule in _WATCHED for each in rule(analysis))
    return {(each.rule, each.band) for each in found if each is not None and each.severity != "note"}


def _less_gain(rig: Project, band: str) -> Iterator[Project]:
    path = ("stages", "if_amplifier_1", "gain_db")
    for less_db in range(1, _MOST_DB + 1):
        yield rig.edited(path, rig.at(path) - less_db)


def _narrower(rig: Project, band: str) -> Iterator[Project]:
    for stage in rig.stages:
        for member in stage.members:
            one = member.asked
            if isinstance(one, BandPassFilter) and band in one.bands:
                path = (*member.path_in(stage.id), "bandwidth_hz")
                for share in _NARROWER:
                    # Of a filter on a few kilohertz ten kilohertz less are nothing at all.
                    trial = rig.tried(path, round(share * one.bandwidth_hz, -4))
                    if trial is not None:
                        yield trial
