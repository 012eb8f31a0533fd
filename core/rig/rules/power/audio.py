"""Rules on audio stages of parts: what was asked of them, clipping, speech, hum, heat, and hearing."""

from collections.abc import Iterator
from math import log10, pi

from core.model.stages.audio import AudioPower, BuiltAudio
from core.model.stages.stage import Way
from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.rig.audio.chain import AudioChain, audio_chain, audio_stages
from core.rig.audio.facts import audio_of, sound
from core.rig.findings import COMMON_PRACTICE, Finding, rule
from core.rig.rules.power.gain_missed import gain_missed
from core.stages.audio.design import AudioDesign
from core.stages.audio.figures import AIR_C, gain_missed_db
from core.stages.filters.carrier_oscillator import SPEECH_HZ
from core.stages.kinds.table import audio_of_parts, kind_of

#: An input resistance may fall short of the one asked by this share [-]; common practice, no source.
_INPUT_SHARE = 0.75
#: So much of either end of speech the audio stages may take, dB; common practice, no source.
_SPEECH_DB = 6.0
#: So much of the bass a microphone's own capacitance may take with its amplifier, dB; common practice.
_BASS_DB = 3.0
#: A junction without a sink should stay below this, °C; data sheets of plastic cases state 150 at most.
_JUNCTION_C = 125.0
#: Sound pressure that headphones should not reach at their loudest, dB SPL.
_HEARING_DB_SPL = 100.0
#: A load differs from the one that a power stage is made for by more than this share [-].
_LOAD_SHARE = 0.3
_WAYS: tuple[Way, ...] = ("receive", "transmit")


def _has_audio(analysis: Analysis) -> bool:
    return any(isinstance(row.design, AudioDesign) for row in analysis.circuits)


@rule
def audio_as_asked(analysis: Analysis) -> Iterator[Finding]:
    """An audio stage should come to the gain and the input resistance that are asked of it."""
    for each in audio_of(analysis):
        yield from gain_missed(
            each.name,
            each.design.parts,
            each.design.asked.gain_db,
            gain_missed_db(each.design, each.figures),
            of="voltage gain",
            other="another circuit",
            rule="audio_gain",
            stage=each.stage,
            path=("stages", each.stage, "gain_db"),
        )
        wanted = each.design.asked.input_ohm
        # What feeds an electret lies across the input on purpose.
        fed = any(part.role == "electret" for part in each.design.parts)
        into = 1 / (1 / each.figures.input_ohm).real
        if wanted is not None and not fed and into < _INPUT_SHARE * wanted:
            yield Finding(
                severity="caution",
                rule="audio_input",
                stage=each.stage,
                path=("stages", each.stage, "input_ohm"),
                words=f"{each.name} shows <figure> at its input where <limit> is asked; its transistor has "
                "no more at this current and gain.",
                figure=into,
                limit=wanted,
                at_least=True,
                unit="Ω",
                shown="2",
                remedy="Build it with an operational amplifier, whose input is a resistor, or ask for less.",
                source="linear solution of the circuit on its fitted parts",
            )


@rule
def audio_clips(analysis: Analysis) -> Iterator[Finding]:
    """The last stage should give what the volume control is set to hold."""
    project = analysis.project
    for control in (stage for stage in project.path("receive") if kind_of(stage).control(stage) is not None):
        held = kind_of(control).control(control)
        heard = sound(analysis, project.bands[0].name)
        if held is None or heard is None or held.held_w <= heard.most_w:
            continue
        *_, (_, last, _) = audio_stages(analysis, project.bands[0].name, "receive")
        yield Finding(
            severity="caution",
            rule="audio_clips",
            stage=last.id,
            subject=control.id,
            path=("stages", last.id, "supply_v"),
            words=f"{last.name} clips: {control.name} holds <figure> of a loud station, and it gives <limit> "
            "at most.",
            figure=held.held_w,
            limit=heard.most_w,
            unit="W",
            shown="2",
            remedy=f"Give {last.name} a higher supply, or hold less.",
            source="swing of its output into the speaker",
        )


def _told(analysis: Analysis, way: Way) -> AudioChain | None:
    if not analysis.project.path(way):
        return None
    found = audio_chain(analysis, analysis.project.bands[0].name, way)
    return found if isinstance(found, AudioChain) else None


@rule
def speech_cut(analysis: Analysis) -> Iterator[Finding]:
    """Audio stages should leave to the ladder what cuts speech."""
    if not _has_audio(analysis):
        return
    band = analysis.project.bands[0].name
    for way in _WAYS:
        found = _told(analysis, way)
        if found is None:
            continue
        for f_hz, end, field in ((SPEECH_HZ[0], "lowest", "low_hz"), (SPEECH_HZ[1], "highest", "high_hz")):
            lost_db = -found.audio_at_db(f_hz)
            # What a crystal microphone loses with its amplifier is told of that.
            if lost_db <= _SPEECH_DB or (field == "low_hz" and way == "transmit" and _bass_db(analysis)):
                continue
            worst = _cuts_most(analysis, band, way, field)
            if worst is None:
                continue
            yield Finding(
                severity="caution",
                rule="speech_cut",
                stage=worst.id,
                subject=f"{way}, {field}",
                path=("stages", worst.id, field),
                words=f"The audio stages in {way} take <figure> of the {end} tones of speech, at "
                f"{f_hz:.0f} Hz against 1 kHz; <limit> is much.",
                figure=lost_db,
                limit=_SPEECH_DB,
                unit="dB",
                shown=".1f",
                remedy=f"Move the {end} frequency of {worst.name} further out.",
                source=f"exact response of the audio stages; {COMMON_PRACTICE}",
            )


def _cuts_most(analysis: Analysis, band: str, way: Way, field: str) -> BuiltAudio | AudioPower | None:
    """The stage of a path that is asked for the narrowest range at that end."""
    stages = [
        audio
        for _, stage, _ in audio_stages(analysis, band, way)
        for audio in (audio_of_parts(stage),)
        if audio is not None and hasattr(audio, field)
    ]
    narrowest = max if field == "low_hz" else min
    return narrowest(stages, key=lambda each: getattr(each, field), default=None)


def _bass_db(analysis: Analysis) -> float | None:
    """What of the lowest tones a microphone's capacitance loses with its amplifier's input, against 1 kHz
    [dB]; None where that is little, or where it has none.
    """
    spoken = analysis.microphone
    if spoken is None or spoken.source.capacitance_f is None:
        return None
    into = 1 / (1 / spoken.input_impedance).real
    corner_hz = 1 / (2 * pi * into * spoken.source.capacitance_f)
    low, tone = (10 * log10(1 + (corner_hz / f_hz) ** 2) for f_hz in (SPEECH_HZ[0], 1e3))
    return low - tone if low - tone > _BASS_DB else None


@rule
def crystal_bass(analysis: Analysis) -> Iterator[Finding]:
    """A crystal microphone is a capacitor, and an input of too low resistance takes its bass."""
    lost_db, spoken = _bass_db(analysis), analysis.microphone
    if lost_db is None or spoken is None or not analysis.project.path("transmit"):
        return
    assert spoken.source.capacitance_f is not None
    wanted = 1 / (2 * pi * SPEECH_HZ[0] * spoken.source.capacitance_f)
    first = analysis.project.path("transmit")[0]
    path = ("stages", first.id, "input_ohm") if spoken.computed else ("microphone", "input_ohm")
    yield Finding(
        severity="caution",
        rule="crystal_bass",
        stage=first.id if spoken.computed else "microphone",
        path=path,
        words=f"A crystal microphone of {format_value(spoken.source.capacitance_f, 'F', 2)} loses <figure> "
        f"of its bass in an input of {format_value(spoken.input_ohm, 'Ω', 2)}, at {SPEECH_HZ[0]:.0f} Hz "
        "against 1 kHz; <limit> is much.",
        figure=lost_db,
        limit=_BASS_DB,
        unit="dB",
        shown=".1f",
        remedy=f"Give the amplifier an input of {format_value(wanted, 'Ω', 2)} or more: a JFET or an "
        "operational amplifier with JFETs.",
        source=f"capacitance of the crystal and the amplifier's input; {COMMON_PRACTICE}",
    )


@rule
def hum_heard(analysis: Analysis) -> Iterator[Finding]:
    """Hum of the supply should stay below the room's noise."""
    project = analysis.project
    heard = sound(analysis, project.bands[0].name) if project.path("receive") else None
    if heard is None or heard.hum_db_spl <= project.speaker.room_noise_db_spl:
        return
    stage, name, _ = max(heard.shares_v, key=lambda each: each[2])
    most = project.stage(stage)
    filtered = kind_of(most).voltage_audio(most) is not None
    yield Finding(
        severity="caution",
        rule="hum_heard",
        stage=stage,
        path=("stages", stage, "feed_ohm") if filtered else ("station", "ripple_v"),
        words=f"Hum of the supply makes <figure> at the ear with the volume full up, most of it through "
        f"{name}; the room has <limit>.",
        figure=heard.hum_db_spl,
        limit=project.speaker.room_noise_db_spl,
        unit="dB SPL",
        remedy=f"Give {name} a larger resistor in its supply, or the supply less ripple."
        if filtered
        else f"Regulate the supply of {name}.",
        source="ripple as stated, behind regulator and decoupling, through each stage's circuit; a small "
        "speaker gives less of so low a tone",
    )


@rule
def audio_hot(analysis: Analysis) -> Iterator[Finding]:
    """A power stage's chip or transistors should bear the heat of a tone at any volume."""
    for each in audio_of(analysis):
        if each.heat is None or each.heat.worst_c <= _JUNCTION_C:
            continue
        yield Finding(
            severity="caution",
            rule="audio_hot",
            stage=each.stage,
            path=("stages", each.stage, "supply_v"),
            words=f"{each.heat.part} of {each.name} gets as warm as <figure> on a loud tone, in air of "
            f"{AIR_C:.0f} °C without a sink, where <limit> is wise; it takes "
            f"{format_value(each.heat.part_w, 'W', 2)} then.",
            figure=each.heat.worst_c,
            limit=_JUNCTION_C,
            unit="°C",
            remedy="Lower its supply, take a load of more ohms or one that bears more, or give it a sink.",
            source="class B on a tone; heat to still air by the data sheet, from memory; the limit is common "
            "practice",
        )


@rule
def audio_load(analysis: Analysis) -> Iterator[Finding]:
    """A power stage is made for a load, and works into the speaker that there is."""
    ohm = analysis.project.speaker.impedance_ohm
    for each in analysis.project.path("receive"):
        stage = kind_of(each).power_audio(each)
        if stage is not None and not 1 - _LOAD_SHARE < ohm / stage.load_ohm < 1 / (1 - _LOAD_SHARE):
            yield Finding(
                severity="note",
                rule="audio_load",
                stage=stage.id,
                path=("stages", stage.id, "load_ohm"),
                words=f"{stage.name} is made for <limit> and works into <figure>: coupling capacitor and "
                "heat are those of the other load.",
                figure=ohm,
                limit=stage.load_ohm,
                at_least=ohm < stage.load_ohm,
                unit="Ω",
                shown="2",
                remedy=f"Ask it for a load of {format_value(ohm, 'Ω', 2)}.",
                source="the speaker's impedance as stated",
            )


@rule
def headphones_loud(analysis: Analysis) -> Iterator[Finding]:
    """No station, and no click, should be able to make headphones so loud that hearing is harmed."""
    project = analysis.project
    if project.speaker.worn != "headphones" or not project.path("receive"):
        return
    heard = sound(analysis, project.bands[0].name)
    if heard is None or heard.loudest_db_spl <= _HEARING_DB_SPL:
        return
    *_, (_, last, _) = audio_stages(analysis, project.bands[0].name, "receive")
    yield Finding(
        severity="caution",
        rule="headphones_loud",
        stage=last.id,
        path=("stages", last.id, "series_ohm"),
        words=f"{last.name} can make <figure> in the headphones; beyond <limit> hearing is harmed within "
        "minutes, and a sudden strong station or a click reaches it.",
        figure=heard.loudest_db_spl,
        limit=_HEARING_DB_SPL,
        unit="dB SPL",
        remedy="Put a resistor in series with the headphones.",
        source="largest output into the headphones and their sensitivity; players may give 100 dB(A) at most "
        "(EN 50332-1, from memory)",
    )
