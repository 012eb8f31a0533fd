"""A rig whose audio stages are circuits."""

from core.model.stages.audio import AudioPower, BuiltAudio


def with_audio(project, preamplifier=None, power=None, microphone=None, track_ohm=10e3):
    """The rig with a preamplifier, a potentiometer, a power stage and a microphone amplifier of parts; what
    is given are other fields of theirs.
    """
    made = []
    for stage in project.stages:
        if stage.kind in ("audio", "built_audio", "audio_power", "gain_control"):
            continue
        made.append(stage)
    volume = project.stage("gain_control") if any(s.id == "gain_control" for s in project.stages) else None
    if volume is not None:
        volume = volume.edited(("track_ohm",), track_ohm)
    listened = {"gain_db": 36.0}
    receive = {"topology": "operational", "gain_db": 18.0, "source_ohm": 50.0, "supply_v": 12.0}
    transmit = {"gain_db": 24.0, "load_ohm": 50.0, "second_a": 10e-3, "feed_ohm": 100.0, "supply_v": 12.0}
    made += [
        BuiltAudio(
            id="preamplifier",
            name="Preamplifier",
            direction="receive",
            **receive | (preamplifier or {}),
        ),
        *([] if volume is None else [volume]),
        AudioPower(id="audio", name="Audio power stage", direction="receive", **listened | (power or {})),
        BuiltAudio(
            id="microphone_amplifier",
            name="Mic amplifier",
            direction="transmit",
            **transmit | (microphone or {}),
        ),
    ]
    return project.with_stages(tuple(made)).edited(("microphone", "type"), "dynamic")


def edited(project, *changes):
    """The rig with other values at some places."""
    for path, value in changes:
        project = project.edited(path, value)
    return project


def _with(**stages):
    return lambda project: with_audio(project, **stages)


def _and(*changes, **stages):
    return lambda project: edited(with_audio(project, **stages), *changes)


_HEADPHONES = (
    (("speaker", "worn"), "headphones"),
    (("speaker", "sensitivity_db_spl"), 100.0),
    (("speaker", "impedance_ohm"), 32.0),
)
#: What sets off each rule on audio stages: the rule, and how a rig is brought to it.
SPOILT_AUDIO = {
    "audio_gain": _with(preamplifier={"as_built": {"gain_resistor": 22e3}}),
    "audio_input": _with(microphone={"input_ohm": 100e3}),
    "microphone_loaded": _with(microphone={"input_ohm": 200.0}),
    "crystal_bass": _and((("microphone", "type"), "crystal")),
    "audio_clips": _and((("stages", "gain_control", "held_w"), 0.5), power={"supply_v": 5.0}),
    "speech_cut": _with(microphone={"low_hz": 600.0}),
    "speech_cut, highest": _with(preamplifier={"topology": "single", "as_built": {"high_cut": 68e-9}}),
    "hum_heard": _and(
        (("supply", "regulators"), ()),
        (("station", "ripple_v"), 0.1),
        preamplifier={"feed_ohm": 1.0, "topology": "single", "gain_db": 14.0},
    ),
    "audio_hot": _with(power={"supply_v": 12.0, "load_ohm": 4.0}),
    "audio_load": _and((("speaker", "impedance_ohm"), 4.0)),
    "headphones_loud": _and(*_HEADPHONES, power={"load_ohm": 32.0}),
    "overdriven": _with(microphone={"second_a": None, "gain_db": 34.0}),
    "filter_unsolved": _with(power={"supply_v": 18.0}),
}
