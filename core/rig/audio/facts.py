"""What there is to tell of audio stages of parts, asked of an analysis: by themselves, at their places, and
what of them reaches the ear.
"""

from collections.abc import Iterator
from functools import lru_cache
from math import inf, log10, sqrt

import numpy as np

from core.circuits.active.swing import least
from core.circuits.active.two_port import TwoPort
from core.circuits.units import added_db, dbm, watts
from core.model.project import Stage
from core.model.stages.stage import StageBase, Way
from core.record import record
from core.rig.analysis import Analysis
from core.rig.audio.chain import audio_stages, ends_of, ports_at
from core.rig.levels.blocks import Block
from core.rig.levels.chain import ends_ohm
from core.rig.levels.receive import ReceiveLevels, speaker_ohm
from core.rig.levels.transmit import TransmitLevels
from core.rig.supply.consumers import feeding
from core.rig.supply.parts import ripple_left
from core.stages.audio.design import TONE_HZ, AudioDesign, voltage_gain_db
from core.stages.audio.figures import (
    HUM_HZ,
    AudioFigures,
    AudioSweep,
    Heat,
    figures,
    heat,
    supply_gain_db,
    sweep,
)
from core.stages.outcome import Unsolved

#: Limits up to so many times the first one are told [-].
_TOLD_LIMITS = 10.0


@record(kw_only=True, eq=False)
class AtPlace:
    """An audio stage where it stands on a band in a direction, at 1 kHz.

    Impedances before and behind it [ohm], voltage gain there [dB], largest output at the onset of clipping
    [V effective], and what ends it. `asked_v` is what it has to give [V effective]: on speech peaks, or of
    the strongest station with the controls turned down; `headroom_db` how far that lies below where it loses
    a decibel.
    """

    band: str
    way: Way
    source_ohm: complex
    load_ohm: complex
    gain_db: float
    most_v: float
    limit: str
    asked_v: float
    headroom_db: float | None


@record(kw_only=True)
class LimitAt:
    """A part, what it runs out of, and at which output into what really stands behind the stage [V
    effective].
    """

    ref: str
    what: str
    output_v: float


@record(kw_only=True, eq=False)
class AudioFacts:
    """An audio stage of parts: its design and figures between the ends that it is made for, what heats it
    (None of a voltage amplifier), and where it stands, None when it is in no path.
    """

    name: str
    stage: str
    design: AudioDesign
    figures: AudioFigures
    sweep: AudioSweep
    heat: Heat | None
    at: AtPlace | None


@record(kw_only=True)
class Sound:
    """What comes to the ear of a receiver whose last stage is a circuit: sound pressure of its largest output
    [dB SPL], at what power [W], and hum with all controls full up [dB SPL, V effective at the speaker], by
    stages: key, name and volts.
    """

    loudest_db_spl: float
    most_w: float
    hum_db_spl: float
    hum_v: float
    shares_v: tuple[tuple[str, str, float], ...]


def audio_facts(analysis: Analysis, stage: StageBase, band: str) -> AudioFacts | Unsolved:
    """The facts of an audio stage of parts on a band."""
    made = analysis.design(stage.id, band)
    if isinstance(made, Unsolved):
        return made
    if not isinstance(made, AudioDesign):
        return Unsolved(f"{stage.name} is no audio amplifier of parts.")
    got, over = figures(made), sweep(made)
    if isinstance(got, Unsolved):
        return got
    if isinstance(over, Unsolved):
        return over
    ways: tuple[Way, ...] = ("receive", "transmit")
    places = (_at_place(analysis, stage, band, way, made) for way in ways if stage.works_in(way))
    return AudioFacts(
        name=stage.name,
        stage=stage.id,
        design=made,
        figures=got,
        sweep=over,
        heat=heat(made),
        at=next((each for each in places if each is not None), None),
    )


def limits(facts: AudioFacts) -> tuple[LimitAt, ...]:
    """What limits a stage's output where it stands, or into the load that it is made for, first what is
    reached first.
    """
    load: complex = facts.design.ends_ohm[1] if facts.at is None else facts.at.load_ohm
    found = (
        LimitAt(ref=each.ref, what=each.what, output_v=each.most_v(load) / sqrt(2))
        for each in facts.design.swings
    )
    told = sorted(found, key=lambda each: each.output_v)
    # What would be reached only far beyond the first says nothing.
    return tuple(each for each in told if each.output_v < _TOLD_LIMITS * told[0].output_v)


def audio_of(analysis: Analysis) -> list[AudioFacts]:
    """The facts of every audio stage of parts that can be made, in the order of the path."""
    band = analysis.project.bands[0].name
    made = [row.stage for row in analysis.circuits if isinstance(row.design, AudioDesign)]
    found = [audio_facts(analysis, analysis.project.stage(stage), band) for stage in made]
    return [each for each in found if isinstance(each, AudioFacts)]


def _at_place(
    analysis: Analysis, stage: StageBase, band: str, way: Way, design: AudioDesign
) -> AtPlace | None:
    place = next((n for n, each, _ in audio_stages(analysis, band, way) if each.id == stage.id), None)
    if place is None:
        return None
    levels: ReceiveLevels | TransmitLevels = (
        analysis.receive(band) if way == "receive" else analysis.transmit(band)
    )
    blocks = levels.blocks
    first, last = ends_of(analysis, band, way, np.array([TONE_HZ]))
    # What stands before audio in receive is the detector, which the blocks know.
    begins = first[0] if isinstance(first, tuple) else first
    source, load = ends_ohm(blocks, place, source_ohm=begins, load_ohm=last)
    port = blocks[place].port
    assert port is not None  # it has a design
    swing, most_v = least(design.swings, load)
    dbm_asked = (
        float(levels.strong_dbm[place + 1])
        if isinstance(levels, ReceiveLevels)
        else float(levels.level_dbm[place + 1])
    )
    return AtPlace(
        band=band,
        way=way,
        source_ohm=source,
        load_ohm=load,
        gain_db=float(voltage_gain_db(_first(port), load)[0]),
        most_v=most_v / sqrt(2),
        limit=f"{swing.ref} runs out of {swing.what}",
        asked_v=sqrt(watts(dbm_asked) / abs((1 / load).real)),
        headroom_db=levels.headroom_db[place],
    )


@lru_cache(maxsize=64)
def _first(port: TwoPort) -> TwoPort:
    """A two-port at its first frequency alone."""
    return TwoPort(port.f_hz[:1], port.chain[..., :1], port.noise[..., :1])


def sound(analysis: Analysis, band: str) -> Sound | None:
    """What comes to the ear on a band; None where the last stage is no circuit."""
    blocks = analysis.receive(band).blocks
    stages = audio_stages(analysis, band, "receive")
    project = analysis.project
    if not stages or stages[-1][2].port is None:
        return None
    most_dbm = blocks[stages[-1][0]].p1db_out_dbm
    if most_dbm is None:
        return None
    load = speaker_ohm(blocks, project.speaker)
    fed = feeding(analysis)
    shares = tuple(
        (
            stage.id,
            stage.name,
            volt * project.station.ripple_v * (1.0 if fed is None else ripple_left(fed, stage.id)),
        )
        for stage, volt in _hum(analysis, band, stages, load)
    )
    whole_db = -inf
    for _, _, volt in shares:
        # Ripple of one supply adds in phase: 20 lg of the sum of volts is twice 10 lg of the sum of numbers.
        whole_db = added_db(whole_db, 10 * log10(volt)) if volt > 0 else whole_db
    hum_v = 0.0 if whole_db == -inf else 10 ** (whole_db / 10)
    at_ear = project.speaker.at_ear_db_spl - 30
    return Sound(
        loudest_db_spl=at_ear + most_dbm,
        most_w=watts(most_dbm),
        hum_db_spl=at_ear + dbm(hum_v**2 / load) if hum_v > 0 else -inf,
        hum_v=hum_v,
        shares_v=shares,
    )


def _hum(
    analysis: Analysis, band: str, stages: list[tuple[int, Stage, Block]], load: float
) -> Iterator[tuple[Stage, float]]:
    """Each stage of parts with the volts of hum at the speaker for a volt of ripple."""
    ports = ports_at(analysis, band, "receive", (HUM_HZ,))
    source, _ = ends_of(analysis, band, "receive", np.array([HUM_HZ]))
    assert not isinstance(source, tuple)  # a detector has one impedance
    seen = [complex(load)]
    for port in reversed(ports):
        seen.append(complex(port.input_ohm(seen[-1])[0]))
    seen = seen[::-1]
    behind_db = [0.0]
    for port, into in zip(reversed(ports), reversed(seen[1:]), strict=True):
        behind_db.append(behind_db[-1] + float(voltage_gain_db(port, into)[0]))
    behind_db = behind_db[::-1]
    for n, ((_, stage, _), port) in enumerate(zip(stages, ports, strict=True)):
        made = analysis.design(stage.id, band)
        if isinstance(made, AudioDesign):
            mine_db = supply_gain_db(made, source, seen[n + 1])
            yield stage, 10 ** ((mine_db + behind_db[n + 1]) / 20)
        source = complex(port.output_ohm(source)[0])
