"""Figures of audio stages of parts, of what speech passes, and of what reaches the ear."""

from collections.abc import Callable
from typing import Any

from core.model.values.notation import format_value
from core.rig.audio.chain import AudioChain
from core.rig.audio.facts import AtPlace, AudioFacts, LimitAt, Sound
from core.rig.figures.figure import Figure, Table, band_label, label
from core.stages.audio.crossover import distortion
from core.stages.audio.figures import AIR_C, HUM_HZ, Heat
from core.stages.outcome import Unsolved

_NODAL = "nodal solution of the whole circuit around its direct currents"
_MADE_FOR = f"{_NODAL}, between the ends that it is made for"
_REAL = f"{_NODAL}, between what really stands beside it"
_SWING = "where a part of the linear solution runs out of voltage or current"
_CLASS_B = f"mean current V/(π R) of class B from one supply, beside that at rest; air of {AIR_C:.0f} °C"


def _ohm(value: complex) -> str:
    sign = "+" if value.imag >= 0 else "−"
    return f"{format_value(value.real, 'Ω', 3)} {sign} j{format_value(abs(value.imag), 'Ω', 3)}"


def _of(key: str, title: str, what: str, get: Callable[[AudioFacts], Any], **how: Any) -> Figure[AudioFacts]:
    given: dict[str, Any] = {"source": _MADE_FOR} | how
    return Figure(key=key, title=title, what=what, get=get, **given)


def _distorted(key: str, title: str, share: float) -> Figure[AudioFacts]:
    """What a pair that leaves class A makes of a tone at a share of its largest output [-]."""

    def get(f: AudioFacts) -> float | None:
        found = distortion(f.design, share * f.figures.output_v)
        return None if found is None or isinstance(found, Unsolved) else 100 * found

    return _of(
        key,
        title,
        "Harmonics over the tone at that share of the largest output voltage, most of it where one half of "
        "the pair hands over to the other.",
        get,
        unit="%",
        places=1,
        source="direct currents of the whole circuit at every phase of a tone, its large capacitors holding "
        "their voltages",
        listed=False,
    )


def _at(key: str, title: str, what: str, get: Callable[[AtPlace], Any], **how: Any) -> Figure[AudioFacts]:
    """A figure at the stage's place; of one in no path there is none."""
    given: dict[str, Any] = {"source": _REAL} | how
    return Figure(key=key, title=title, what=what, get=lambda f: None if f.at is None else get(f.at), **given)


def _hot(key: str, title: str, what: str, get: Callable[[Heat], Any], **how: Any) -> Figure[AudioFacts]:
    """A figure of a power stage's heat."""
    given: dict[str, Any] = {"source": _CLASS_B, "listed": False} | how
    return Figure(
        key=key, title=title, what=what, get=lambda f: None if f.heat is None else get(f.heat), **given
    )


AUDIO_STAGE: Table[AudioFacts] = (
    _of(
        "made_with",
        "made with",
        "Its transistor or chip, and where its figures come from.",
        lambda f: f"{f.design.made_with}, {(f.design.transistor or f.design.chip).status}",  # type: ignore[union-attr]
        source="the tables of devices and chips, or the rig's own transistors",
    ),
    _of(
        "voltage_gain_db",
        "voltage gain",
        "From the input's terminal to the load, at 1 kHz.",
        lambda f: f.figures.gain_db,
        unit="dB",
        places=1,
    ),
    _of(
        "input_ohm",
        "input impedance",
        "At 1 kHz, with the load that it is made for.",
        lambda f: _ohm(f.figures.input_ohm),
    ),
    _of(
        "output_ohm",
        "output impedance",
        "At 1 kHz, with the source that it is made for.",
        lambda f: _ohm(f.figures.output_ohm),
    ),
    _of(
        "low_hz",
        "falls by 3 dB below",
        "Lower corner from the source's open voltage to the load, against 1 kHz.",
        lambda f: f.figures.low_hz,
        unit="Hz",
    ),
    _of(
        "high_hz",
        "falls by 3 dB above",
        "Upper corner of the same.",
        lambda f: f.figures.high_hz,
        unit="Hz",
    ),
    _of(
        "noise_figure_db",
        "noise figure",
        "How much worse signal over noise leaves the stage than it came, without flicker noise.",
        lambda f: f.figures.noise_figure_db,
        unit="dB",
        places=1,
        source="thermal and shot noise of every part, noise of chips by their data sheets; source at 290 K",
    ),
    _of(
        "noise_v",
        "noise at the input, in 1 Hz",
        "Its own and that of its source together, as a voltage in series with the source.",
        lambda f: f.figures.noise_v,
        unit="V",
        digits=2,
    ),
    _of(
        "output_v",
        "largest output",
        "Effective voltage at the load at the onset of clipping.",
        lambda f: f.figures.output_v,
        unit="V",
        digits=2,
        source=_SWING,
    ),
    _of(
        "output_w",
        "largest power",
        "Power in the load at the onset of clipping.",
        lambda f: f.figures.output_w if f.heat is not None else None,
        unit="W",
        digits=2,
        source=_SWING,
        listed=False,
    ),
    _of(
        "first_limit",
        "what ends first",
        "Which part runs out of voltage or current there.",
        lambda f: f.figures.first_limit,
        source=_SWING,
    ),
    _distorted("quiet_distortion", "distortion at a tenth of its output", 0.1),
    _distorted("half_distortion", "distortion at half its output", 0.5),
    _of(
        "supply_gain_db",
        "supply's ripple at the load",
        f"What of ripple on the supply at {HUM_HZ:.0f} Hz reaches the load.",
        lambda f: f.figures.supply_gain_db,
        unit="dB",
        places=0,
        source=f"{_NODAL}, driven at its supply; a chip's rejection by its data sheet",
    ),
    _of(
        "supply_a",
        "current at rest",
        "What it takes from its supply.",
        lambda f: f.figures.supply_a,
        unit="A",
        source="direct currents of the circuit, quiescent current of chips by their data sheets",
    ),
    _hot(
        "full_a",
        "current at its largest output",
        "In the mean, on a tone.",
        lambda h: h.full_a,
        unit="A",
    ),
    _hot(
        "worst_w",
        "heat at most",
        "What heats it at the output at which it gets hottest, on a tone; speech makes a third of it.",
        lambda h: h.worst_w,
        unit="W",
        digits=2,
    ),
    _hot(
        "worst_c",
        "as warm as",
        f"The chip, or either transistor of the pair, at that heat in air of {AIR_C:.0f} °C without a sink.",
        lambda h: h.worst_c,
        unit="°C",
        places=0,
    ),
    _at(
        "way", "stands in", "The direction that the figures below are of.", lambda p: p.way, source="the path"
    ),
    _at(
        "source_ohm",
        "before it",
        "Impedance that it sees at its input at 1 kHz.",
        lambda p: _ohm(p.source_ohm),
        listed=False,
    ),
    _at(
        "load_ohm",
        "behind it",
        "Impedance that it works into at 1 kHz.",
        lambda p: _ohm(p.load_ohm),
        listed=False,
    ),
    _at(
        "gain_there_db",
        "voltage gain there",
        "From its terminal into what really stands behind it, at 1 kHz.",
        lambda p: p.gain_db,
        unit="dB",
        places=1,
    ),
    _at(
        "most_v",
        "largest output there",
        "Effective voltage at the onset of clipping, into what really stands behind it.",
        lambda p: p.most_v,
        unit="V",
        digits=2,
        source=_SWING,
    ),
    _at(
        "asked_v",
        "asked of it",
        "Effective voltage on speech peaks, or of S9 + 40 dB with the controls turned down for it.",
        lambda p: p.asked_v,
        unit="V",
        digits=2,
        source="levels along the path",
    ),
    _at(
        "headroom_db",
        "headroom",
        "How far what is asked stays below where it loses a decibel.",
        lambda p: p.headroom_db,
        unit="dB",
        places=1,
        source="levels along the path; 1.0 dB above the onset of clipping with feedback, 1.5 dB without",
    ),
)
LIMITS: Table[LimitAt] = (
    label("ref", "part", lambda each: each.ref),
    label("what", "runs out of", lambda each: each.what),
    Figure(
        key="output_v",
        title="at an output of",
        what="Effective voltage at which it does, into what really stands behind the stage.",
        source="voltages and currents inside the linear circuit, which follow from those at its output",
        get=lambda each: each.output_v,
        unit="V",
        digits=3,
    ),
)
AUDIO: Table[AudioFacts] = (label("name", "stage", lambda f: f.name), *AUDIO_STAGE)


def _tone(hz: float) -> Figure[AudioChain]:
    return Figure(
        key=f"audio_{hz:.0f}hz_db",
        title=f"audio stages at {hz:.0f} Hz",
        what="What the audio stages with what stands beside them do to that tone, against 1 kHz.",
        source=_REAL,
        get=lambda c: c.audio_at_db(hz),
        unit="dB",
        places=1,
    )


SPEECH: Table[AudioChain] = (
    label("way", "direction", lambda c: c.way),
    band_label(lambda c: c.band),
    Figure(
        key="corners_hz",
        title="speech from",
        what="Where the ladder and the audio stages together have lost 6 dB against 1 kHz.",
        source="exact responses of ladder and audio stages, the carrier at its place",
        get=lambda c: c.corners_hz if None not in c.corners_hz else None,
        unit="Hz",
        joint=" to ",
        keys=("low_6db_hz", "high_6db_hz"),
    ),
    Figure(
        key="ripple_db",
        title="from loudest to weakest tone",
        what="Of all between 300 and 2700 Hz, through the ladder and the audio stages.",
        source="the same responses",
        get=lambda c: c.ripple_db,
        unit="dB",
        places=1,
    ),
    _tone(300.0),
    _tone(2700.0),
)
SOUND: Table[Sound] = (
    Figure(
        key="loudest_db_spl",
        title="loudest sound",
        what="At the ear, of the last stage's largest output.",
        source="sensitivity and distance of the speaker in free field; of headphones at the ear",
        get=lambda s: s.loudest_db_spl,
        unit="dB SPL",
        places=0,
    ),
    Figure(
        key="most_w",
        title="at",
        what="The power that the last stage gives the speaker where it has lost a decibel.",
        source=_SWING,
        get=lambda s: s.most_w,
        unit="W",
        digits=2,
    ),
    Figure(
        key="hum_v",
        title="hum at the speaker",
        what="Of the supply's ripple, from all audio stages of parts, all controls full up.",
        source=f"{_NODAL}, each driven at its supply; ripple of the station behind regulators",
        get=lambda s: s.hum_v,
        unit="V",
        digits=2,
    ),
    Figure(
        key="hum_db_spl",
        title="hum at the ear",
        what="Sound pressure of it; a small speaker gives less of so low a tone.",
        source="as the loudest sound",
        get=lambda s: s.hum_db_spl if s.hum_v > 0 else None,
        unit="dB SPL",
        places=0,
    ),
)
