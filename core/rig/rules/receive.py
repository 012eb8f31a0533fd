"""Rules on receive levels: noise, overload, drive."""

from collections.abc import Iterator
from math import ceil

from core.circuits.units import watts
from core.model.mixers import Mixer
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Finding
from core.rig.levels import (
    ASSUMED_STRAY_ISOLATION_DB,
    HEARD_OVER_ROOM_DB,
    STRONG_OVER_S9_DB,
    zone_gain_db,
)
from core.rig.rules.rule import rule
from core.stages import mixer

#: How far an oscillator may miss the drive a mixer wants, dB.
_DRIVE_MISS_DB = 3.0
#: Noise folded in from the image that is worth a word, dB of the noise figure.
_IMAGE_NOISE_DB = 1.0
_P372 = "ITU-R P.372 median noise; margin as set in the station's settings"


@rule
def band_noise(analysis: Analysis) -> Iterator[Finding]:
    """Two verdicts: does band noise exceed the receiver's own, and is it loud enough to hear."""
    speaker = analysis.project.speaker
    for band in analysis.project.bands:
        if not analysis.project.path("receive"):
            return
        r = analysis.receive(band.name)
        if r.noise_above_own:
            yield Finding(
                "note",
                "noise_above_own",
                "station",
                band.name,
                f"Band noise on {band.name} is {r.noise_margin_db:.0f} dB above the receiver's own.",
                "Nothing to do; more gain ahead would only cost overload.",
                _P372,
                ("station", "environment"),
            )
        else:
            yield Finding(
                "caution",
                "noise_above_own",
                "station",
                band.name,
                f"Band noise on {band.name} is only {r.noise_margin_db:.1f} dB above the receiver's own; "
                f"{analysis.project.station.noise_margin_db:.0f} dB is wanted.",
                "Add an RF stage, or lower the loss before the first amplifier.",
                _P372,
                ("station", "noise_margin_db"),
            )
        if not r.noise_heard:
            yield Finding(
                "caution",
                "noise_heard",
                "speaker",
                band.name,
                f"Band noise on {band.name} makes {r.speaker_noise_db_spl:.0f} dB SPL at the ear, less "
                f"than {HEARD_OVER_ROOM_DB:.0f} dB over the room's {speaker.room_noise_db_spl:.0f}: "
                "the band sounds dead.",
                "Add gain anywhere before the speaker; it need not be at the front.",
                COMMON_PRACTICE,
                ("speaker", "sensitivity_db_spl"),
            )


@rule
def overload(analysis: Analysis) -> Iterator[Finding]:
    """A strong signal on the band should not compress any stage."""
    for band in analysis.project.bands:
        if not analysis.project.path("receive"):
            return
        r = analysis.receive(band.name)
        worst = [
            (h, b)
            for h, b in zip(r.headroom_db, r.blocks, strict=True)
            if h is not None and b.kind != "audio"
        ]
        if not worst:
            continue
        headroom, block = min(worst, key=lambda pair: pair[0])
        if headroom < 0:
            yield Finding(
                "caution",
                "overload",
                block.stage,
                band.name,
                f"{block.name} compresses on {band.name} at {-headroom:.0f} dB below S9 + 40 dB.",
                "Put less gain before it, or give it more current; a gain control helps behind the ladder.",
                "IARU S-meter; common practice for S9 + 40 dB",
                ("stages", block.stage),
            )


#: Kinds of stage that add no noise beyond their loss.
_PASSIVE = ("band_pass", "low_pass", "ladder", "attenuator")


@rule
def image_noise(analysis: Analysis) -> Iterator[Finding]:
    """An amplifier right before a mixer lets its own noise in a second time, through the image."""
    project = analysis.project
    for band in project.bands:
        if not project.path("receive"):
            return
        r = analysis.receive(band.name)
        ahead = [n for n, each in enumerate(r.blocks) if each.kind == "mixer" and each.zone == "rf"]
        if r.image_noise_db < _IMAGE_NOISE_DB or not ahead:
            continue
        # Most often an RF stage; a builder may have put any other stage that adds noise there.
        noisy = next((each for each in reversed(r.blocks[: ahead[0]]) if each.kind not in _PASSIVE), None)
        if noisy is None:
            continue
        yield Finding(
            "note",
            "image_noise",
            noisy.stage,
            band.name,
            f"{noisy.name} has no filter for {band.name} between itself and the mixer, so that its noise on "
            f"the image counts too: {r.image_noise_db:.1f} dB of the noise figure of "
            f"{r.noise_figure_db:.1f} dB.",
            f"Put {noisy.name} before the band-pass, or leave it out where band noise exceeds the receiver's "
            "own by far.",
            "noise folded at the mixer; gain and noise figure taken to be the same at the image",
            ("stages", noisy.stage),
        )


@rule
def loud_audio(analysis: Analysis) -> Iterator[Finding]:
    """A loud station must not ask more of the audio stage than it can give without a word."""
    project = analysis.project
    for band in project.bands:
        if not project.path("receive"):
            return
        r = analysis.receive(band.name)
        for place, each in enumerate(r.blocks):
            if each.kind != "audio" or each.p1db_out_dbm is None:
                continue
            over = float(r.s9_dbm[place + 1]) - each.p1db_out_dbm
            if over > 0:
                yield Finding(
                    "caution",
                    "loud_audio",
                    each.stage,
                    band.name,
                    f"An S9 signal on {band.name} asks {watts(float(r.s9_dbm[place + 1])):.2g} W of "
                    f"{each.name}, which gives {watts(each.p1db_out_dbm):.2g} W.",
                    f"Take {ceil(over)} dB of gain out of the receiver, or put a volume control of at least "
                    f"{ceil(over + STRONG_OVER_S9_DB)} dB before it, for signals of "
                    f"S9 + {STRONG_OVER_S9_DB:.0f} dB.",
                    "level of S9 along the path with the volume full up",
                    ("stages", each.stage, "gain_db"),
                )


@rule
def drive(analysis: Analysis) -> Iterator[Finding]:
    """Each mixer wants its drive."""
    for stage in analysis.project.stages:
        if not isinstance(stage, Mixer) or not stage.in_path:
            continue
        wanted = mixer.figures(stage).drive_dbm
        source = analysis.project.vfo if stage.oscillator == "vfo" else analysis.project.carrier
        miss = source.output_dbm - wanted
        if abs(miss) > _DRIVE_MISS_DB:
            yield Finding(
                "caution",
                "mixer_drive",
                stage.id,
                "",
                f"{stage.name} wants {wanted:.0f} dBm of drive and gets {source.output_dbm:.0f} dBm.",
                f"Buffer the oscillator: an amplifier of {-miss:.0f} dB makes up for it."
                if miss < 0
                else "Put a pad behind the oscillator.",
                "typical of the mixer type, from memory",
                (stage.oscillator, "output_dbm"),
            )


@rule
def too_much_gain_at_one_frequency(analysis: Analysis) -> Iterator[Finding]:
    """Gain at one frequency beyond what one box's wiring isolates makes an oscillator."""
    for way in ("receive", "transmit"):
        for band in analysis.project.bands[:1]:
            levels = analysis.receive(band.name) if way == "receive" else analysis.transmit(band.name)
            for zone in ("rf", "if"):
                gain = zone_gain_db(levels.blocks, zone)  # type: ignore[arg-type]
                if gain > ASSUMED_STRAY_ISOLATION_DB:
                    yield Finding(
                        "caution",
                        f"loop_gain_{zone}_{way}",
                        "project",
                        "",
                        f"The {way} path amplifies {gain:.0f} dB at one frequency ({zone.upper()}); with "
                        f"an assumed {ASSUMED_STRAY_ISOLATION_DB:.0f} dB of isolation it can howl.",
                        "Spread the gain over RF, IF and audio, or screen the stages from each other.",
                        COMMON_PRACTICE,
                        ("stages",),
                    )
