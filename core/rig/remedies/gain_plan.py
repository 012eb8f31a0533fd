"""Where to put how much gain in the receiver.

As little ahead of the filter as the noise margin asks, because every decibel there is one of overload lost;
what the ear still lacks is made behind it. (Common practice, no source: a receiver with a two-diode mixer,
21 to 24 dB of IF gain on either side of a ten-pole filter and no RF stage was too quiet for band noise on the
upper HF bands; about 10 dB of RF gain cured it.)
"""

from collections.abc import Callable, Mapping
from math import ceil

from core.circuits.units import ratio
from core.model.project import Project, Stage
from core.model.values.base import Path
from core.model.values.quantities import spelled
from core.record import record
from core.rig.analysis import Analysis
from core.rig.findings import Edit
from core.rig.levels.receive import ReceiveLevels
from core.stages.kinds.table import audio_of_parts, kind_of
from core.stages.outcome import Unsolved
from core.stages.steps import Steps

#: What one stage is given at least and at most, dB: radio stages, and audio, which hums and howls beyond.
#: Common practice, no source.
_LEAST_DB, _MOST_DB, _LEAST_AUDIO_DB, _MOST_AUDIO_DB = 6.0, 24.0, 20.0, 80.0
#: The same of audio stages of parts, by their circuit: voltage gain that can be made, and is borne; a choice
#: within what the circuits can.
_OF_PARTS_DB = {
    "single": (6.0, 36.0),
    "pair": (16.0, 40.0),
    "operational": (6.0, 40.0),
    "chip": (26.0, 46.0),
    "complementary": (20.0, 32.0),
}
_COARSE_DB, _FINE_DB = 2.0, 0.5
_Gains = Mapping[str, float]


@record(kw_only=True)
class Share:
    """One stage's gain now and as proposed, dB, and the requirement that keeps it from being less."""

    stage: str
    name: str
    now_db: float
    then_db: float
    binds: str


@record(kw_only=True)
class GainPlan:
    """The gains proposed, as an edit, and what cannot be had with them, in words; empty when all can."""

    shares: tuple[Share, ...]
    edit: Edit
    short: str


@record(kw_only=True)
class _Slack:
    """How far a rig is from its requirements, dB, negative where it misses one, and on which band each."""

    noise_db: float
    noise_band: str
    overload_db: float
    overload_at: str
    heard_db: float
    heard_band: str
    loud_db: float


def gain_plan(project: Project) -> Steps[GainPlan | Unsolved]:
    """The least gains of the receiver's stages that meet the noise margin wanted, keep the strongest station
    from compressing a stage and make band noise heard. A step is a rig looked at.
    """
    stages = [stage for stage in project.path("receive") if kind_of(stage).gains.get("receive")]
    if not stages or not project.bands:
        return Unsolved("There is no stage in the receive path whose gain could be set; add an amplifier.")
    plain = yield from _planned(project, stages)
    if not plain.short:
        return plain
    resting = next((stage for stage in project.stages if _rests_ahead(project, stage)), None)
    if resting is None:
        return plain
    path: Path = ("stages", resting.id, "in_path")
    awake = project.edited(path, True)
    stages = [stage for stage in awake.path("receive") if kind_of(stage).gains.get("receive")]
    found = yield from _planned(awake, stages)
    if found.short:
        return plain
    edit = Edit(f"Switch {resting.name} in, and set all gains", ((path, True), *found.edit.changes))
    return GainPlan(shares=found.shares, edit=edit, short="")


def _planned(project: Project, stages: list[Stage]) -> Steps[GainPlan]:
    trials = _Trials(project, stages)
    radio = [stage for stage in stages if kind_of(stage).role != "audio"]
    audio = [stage for stage in stages if kind_of(stage).role == "audio"]
    gains: _Gains = {stage.id: _LEAST_DB for stage in radio} | {
        stage.id: min(max(trials.now[stage.id], _least(stage)), _most(stage)) for stage in audio
    }
    gains = yield from _quiet_enough(trials, radio, gains)
    gains = yield from _loud_enough(trials, radio, audio, gains)
    slack = yield from trials.slack(gains)
    shares = []
    for stage in stages:
        less = {**gains, stage.id: gains[stage.id] - _FINE_DB}
        without = yield from trials.slack(less)
        shares.append(
            Share(
                stage=stage.id,
                name=stage.name,
                now_db=trials.now[stage.id],
                then_db=gains[stage.id],
                binds=_binding(without, at_least=gains[stage.id] <= _least(stage)),
            )
        )
    changes = tuple(
        (trials.path(stage), gains[stage.id]) for stage in stages if gains[stage.id] != trials.now[stage.id]
    )
    return GainPlan(shares=tuple(shares), edit=Edit("Set all gains", changes), short=_short(project, slack))


def _quiet_enough(trials: "_Trials", radio: list[Stage], gains: _Gains) -> Steps[_Gains]:
    """Gain where it lowers the noise most, until the margin is met; then no more than that needs."""
    slack = yield from trials.slack(gains)
    while slack is not None and slack.noise_db < 0:
        better: tuple[float, _Gains, _Slack] | None = None
        for stage in radio:
            more = {**gains, stage.id: gains[stage.id] + _COARSE_DB}
            found = yield from trials.slack(more)
            if more[stage.id] > _MOST_DB or found is None or found.overload_db < 0:
                continue
            if found.noise_db > slack.noise_db and (better is None or found.noise_db > better[0]):
                better = found.noise_db, more, found
        if better is None:
            return gains
        _, gains, slack = better
    return (yield from _trimmed(trials, radio[::-1], gains, lambda found: found.noise_db >= 0))


def _loud_enough(trials: "_Trials", radio: list[Stage], audio: list[Stage], gains: _Gains) -> Steps[_Gains]:
    """What the ear lacks: in audio as far as that goes, for it costs no overload. The rest where it costs
    least of that, and of such places where it lowers the noise most.
    """
    slack = yield from trials.slack(gains)
    for stage in audio:
        if slack is None:
            return gains
        wanted = gains[stage.id] + ceil(-slack.heard_db / _FINE_DB) * _FINE_DB
        tried = {**gains, stage.id: min(max(wanted, _least(stage)), _most(stage))}
        found = yield from trials.slack(tried)
        if found is not None and found.noise_db < 0 <= slack.noise_db:
            # Less audio may be so little that what follows is heard in the noise: trimmed further down.
            continue
        gains, slack = tried, found
    while slack is not None and slack.heard_db < 0:
        step = min(ceil(-slack.heard_db / _FINE_DB) * _FINE_DB, _COARSE_DB)
        better: tuple[tuple[float, float], _Gains, _Slack] | None = None
        for stage in radio:
            more = {**gains, stage.id: gains[stage.id] + step}
            found = yield from trials.slack(more)
            if more[stage.id] > _MOST_DB or found is None or found.overload_db < 0:
                continue
            worth = round(found.overload_db), found.noise_db
            if found.heard_db > slack.heard_db and (better is None or worth > better[0]):
                better = worth, more, found
        if better is None:
            return gains
        _, gains, slack = better
    met = slack is not None and slack.noise_db >= 0
    return (
        yield from _trimmed(
            trials,
            [*audio, *radio[::-1]],
            gains,
            lambda found: found.heard_db >= 0 and (found.noise_db >= 0 or not met),
        )
    )


def _trimmed(
    trials: "_Trials", stages: list[Stage], gains: _Gains, good: Callable[[_Slack], bool]
) -> Steps[_Gains]:
    """Half a decibel less of each stage in turn, as long as that is good."""
    for stage in stages:
        while gains[stage.id] > _least(stage):
            less = {**gains, stage.id: gains[stage.id] - _FINE_DB}
            found = yield from trials.slack(less)
            if found is None or not good(found):
                break
            gains = less
    return gains


class _Trials:
    """The rig with other gains, and how far each is from the requirements."""

    def __init__(self, project: Project, stages: list[Stage]) -> None:
        self.project = project
        self.stages = stages
        self.now = {stage.id: float(project.at(self.path(stage))) for stage in stages}
        self._found: dict[tuple[float, ...], _Slack | None] = {}

    def path(self, stage: Stage) -> Path:
        """Where the stage's gain in receive stands."""
        return ("stages", stage.id, str(kind_of(stage).gains["receive"]))

    def slack(self, gains: _Gains) -> Steps[_Slack | None]:
        """None where a stage cannot be made with such a gain."""
        key = tuple(gains[stage.id] for stage in self.stages)
        if key not in self._found:
            self._found[key] = self._looked_at(gains)
            yield
        return self._found[key]

    def _looked_at(self, gains: _Gains) -> _Slack | None:
        rig: Project | None = self.project
        for stage in self.stages:
            rig = None if rig is None else rig.tried(self.path(stage), gains[stage.id])
        if rig is None:
            return None
        analysis = Analysis(rig)
        levels = [analysis.receive(band.name) for band in rig.bands]
        for stage in self.stages:
            made = kind_of(stage).making
            if made is not None and isinstance(analysis.design(stage.id, rig.bands[0].name), Unsolved):
                return None
        noise = min(levels, key=lambda each: each.noise_margin_db)
        heard = min(levels, key=lambda each: each.speaker_noise_db_spl)
        overload_db, overload_at = min(pair for each in levels for pair in _headroom(each))
        return _Slack(
            noise_db=noise.noise_margin_db - rig.station.noise_margin_db,
            noise_band=noise.band,
            overload_db=overload_db,
            overload_at=overload_at,
            heard_db=heard.speaker_noise_db_spl - rig.speaker.wanted_db_spl,
            heard_band=heard.band,
            loud_db=min(_audio_room_db(each) for each in levels),
        )


def _headroom(levels: ReceiveLevels) -> list[tuple[float, str]]:
    rows = zip(levels.headroom_db, levels.blocks, strict=True)
    found = [(room, block.name) for room, block in rows if room is not None and block.role != "audio"]
    return found or [(float("inf"), "")]


def _audio_room_db(levels: ReceiveLevels) -> float:
    """How far S9 stays below what the audio stages give, with all controls full up, dB."""
    rows = zip(levels.blocks, levels.s9_dbm[1:], strict=True)
    return min(
        (
            block.p1db_out_dbm - float(asked)
            for block, asked in rows
            if block.role == "audio" and block.p1db_out_dbm is not None
        ),
        default=float("inf"),
    )


def _rests_ahead(project: Project, stage: Stage) -> bool:
    """Whether an amplifier of the receiver stands ahead of its mixer and the signal goes round it."""
    ids = [each.id for each in project.stages]
    mixer = next(
        (each.id for each in project.path("receive") if kind_of(each).driver(each) == "vfo"), ids[-1]
    )
    ahead = ids.index(stage.id) < ids.index(mixer)
    return ahead and not stage.in_path and bool(kind_of(stage).gains) and stage.direction == "receive"


def _least(stage: Stage) -> float:
    """The least gain that a stage is given, dB."""
    return _range_db(stage)[0]


def _most(stage: Stage) -> float:
    """The most that a stage is given, dB."""
    return _range_db(stage)[1]


def _range_db(stage: Stage) -> tuple[float, float]:
    """From the least to the most gain of a stage, dB; a circuit's voltage gain as far as it can be made."""
    audio = audio_of_parts(stage)
    if audio is not None:
        return _OF_PARTS_DB[audio.topology]
    if kind_of(stage).role == "audio":
        return _LEAST_AUDIO_DB, _MOST_AUDIO_DB
    return _LEAST_DB, _MOST_DB


def _binding(without: _Slack | None, *, at_least: bool) -> str:
    """The requirement that the rig misses with half a decibel less of a stage."""
    if at_least:
        return "no less is customary"
    if without is None:
        return "no less can be made"
    if without.noise_db < 0:
        return f"noise margin on {spelled(without.noise_band)}"
    if without.heard_db < 0:
        return f"band noise at the ear on {spelled(without.heard_band)}"
    return "nothing: it may have less"


def _short(project: Project, slack: _Slack | None) -> str:
    """What cannot be had, in one sentence for each."""
    if slack is None:
        return "These stages cannot be made with such gains."
    told = []
    if slack.noise_db < 0:
        wanted = project.station.noise_margin_db
        told.append(
            f"On {spelled(slack.noise_band)} band noise comes to {wanted + slack.noise_db:.1f} dB above the "
            f"receiver's own where {wanted:g} dB is wanted: more gain ahead would overload."
        )
    if slack.overload_db < 0:
        told.append(
            f"{slack.overload_at} compresses {-slack.overload_db:.0f} dB below "
            f"S9 + {project.station.strongest_over_s9_db:g} dB."
        )
    if slack.heard_db < 0:
        told.append(f"On {spelled(slack.heard_band)} band noise stays {-slack.heard_db:.0f} dB too soft.")
    if slack.loud_db < 0:
        told.append(
            f"With the volume full up S9 asks {ratio(-slack.loud_db):.1f} times what the audio stage gives."
        )
    return " ".join(told)
