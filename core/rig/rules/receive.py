"""Rules on receive levels: noise, overload."""

from collections.abc import Iterator
from math import ceil

from core.circuits.units import watts
from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Finding, rule
from core.rig.levels.blocks import Block
from core.rig.levels.gain_control import Control

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
                severity="note",
                rule="noise_above_own",
                stage="station",
                band=band.name,
                path=("station", "environment"),
                words=f"Band noise on {band.name} is <figure> above the receiver's own.",
                figure=r.noise_margin_db,
                limit=analysis.project.station.noise_margin_db,
                at_least=True,
                unit="dB",
                remedy="Nothing to do; more gain ahead would only cost overload.",
                source=_P372,
            )
        else:
            yield Finding(
                severity="caution",
                rule="noise_above_own",
                stage="station",
                band=band.name,
                path=("station", "noise_margin_db"),
                words=f"Band noise on {band.name} is only <figure> above the receiver's own; "
                "<limit> is wanted.",
                figure=r.noise_margin_db,
                limit=analysis.project.station.noise_margin_db,
                at_least=True,
                unit="dB",
                shown=".1f",
                remedy="Add an RF stage, or lower the loss before the first amplifier.",
                source=_P372,
            )
        if not r.noise_heard:
            yield Finding(
                severity="caution",
                rule="noise_heard",
                stage="speaker",
                band=band.name,
                path=("speaker", "sensitivity_db_spl"),
                words=(
                    f"Band noise on {band.name} makes <figure> at the ear, less than "
                    f"{speaker.heard_over_room_db:g} dB over the room's {speaker.room_noise_db_spl:.0f}: the "
                    "band sounds dead."
                ),
                figure=r.speaker_noise_db_spl,
                limit=speaker.wanted_db_spl,
                at_least=True,
                unit="dB SPL",
                remedy="Add gain anywhere before the speaker; it need not be at the front.",
                source=COMMON_PRACTICE,
            )


@rule
def overload(analysis: Analysis) -> Iterator[Finding]:
    """A strong signal on the band should not compress any stage."""
    over: dict[str, list[tuple[float, str, str]]] = {}
    for band in analysis.project.bands:
        if not analysis.project.path("receive"):
            return
        r = analysis.receive(band.name)
        worst = [
            (h, b)
            for h, b in zip(r.headroom_db, r.blocks, strict=True)
            if h is not None and b.role != "audio"
        ]
        if not worst:
            continue
        headroom, block = min(worst, key=lambda pair: pair[0])
        if headroom < 0:
            over.setdefault(block.stage, []).append((-headroom, band.name, block.name))
    strongest = analysis.project.station.strongest_over_s9_db
    for stage, bands in over.items():
        (most, worst_band, name), *rest = sorted(bands, key=lambda each: -each[0])
        others = "".join(f", {each:.0f} dB on {band}" for each, band, _ in rest)
        yield Finding(
            severity="caution",
            rule="overload",
            stage=stage,
            band="" if rest else worst_band,
            path=("stages", stage),
            words=f"{name} compresses at <figure> below S9 + {strongest:g} dB on {worst_band}{others}.",
            figure=most,
            limit=0.0,
            unit="dB",
            remedy="Put less gain before it, or give it more current; a gain control helps behind "
            "the ladder.",
            source="IARU S-meter; common practice for its strength",
        )


@rule
def image_noise(analysis: Analysis) -> Iterator[Finding]:
    """An amplifier right before a mixer lets its own noise in a second time, through the image."""
    project = analysis.project
    for band in project.bands:
        if not project.path("receive"):
            return
        r = analysis.receive(band.name)
        ahead = [n for n, each in enumerate(r.blocks) if each.role == "mixer" and each.zone == "rf"]
        if r.image_noise_db < _IMAGE_NOISE_DB or not ahead:
            continue
        # Most often an RF stage; a builder may have put any other stage that adds noise there.
        noisy = next((each for each in reversed(r.blocks[: ahead[0]]) if not each.passive), None)
        if noisy is None:
            continue
        yield Finding(
            severity="note",
            rule="image_noise",
            stage=noisy.stage,
            band=band.name,
            path=("stages", noisy.stage),
            words=(
                f"{noisy.name} has no filter for {band.name} between itself and the mixer, so that its noise "
                f"on the image counts too: <figure> of the noise figure of {r.noise_figure_db:.1f} dB."
            ),
            figure=r.image_noise_db,
            limit=_IMAGE_NOISE_DB,
            unit="dB",
            shown=".1f",
            remedy=(
                f"Put {noisy.name} before the band-pass, or leave it out where band noise exceeds the "
                "receiver's own by far."
            ),
            source="noise folded at the mixer, a circuit as it is at the image, a block as for the signal",
        )


@rule
def loud_audio(analysis: Analysis) -> Iterator[Finding]:
    """A loud station must not ask more of the audio stage than it can give without a word."""
    project = analysis.project
    asked: dict[str, list[tuple[float, str, Block]]] = {}
    turned: dict[str, list[Control]] = {}
    for band in project.bands:
        if not project.path("receive"):
            return
        r = analysis.receive(band.name)
        for place, each in enumerate(r.blocks):
            if each.role != "audio" or each.p1db_out_dbm is None:
                continue
            before = [control for control in r.controls if control.place < place]
            least_dbm = (
                float(r.s9_dbm[place + 1])
                + project.station.strongest_over_s9_db
                - sum(c.range_db for c in before)
            )
            if least_dbm > each.p1db_out_dbm:
                asked.setdefault(each.stage, []).append((least_dbm, band.name, each))
                turned[each.stage] = before
    for stage, bands in asked.items():
        (most_dbm, worst, block), *rest = sorted(bands, key=lambda each: -each[0])
        assert block.p1db_out_dbm is not None  # only such are asked too much
        over = ceil(most_dbm - block.p1db_out_dbm)
        others = "".join(f", {format_value(watts(each), 'W', 2)} on {band}" for each, band, _ in rest)
        # The one that stands nearest is the one to be turned by hand.
        control = max(turned[stage], key=lambda each: each.place, default=None)
        down = "" if control is None else f" with {control.name} all the way down"
        yield Finding(
            severity="caution",
            rule="loud_audio",
            stage=stage if control is None else control.stage,
            band="" if rest else worst,
            subject="" if control is None else stage,
            path=("stages", stage, "gain_db") if control is None else ("stages", control.stage, "range_db"),
            words=(
                f"A station of S9 + {project.station.strongest_over_s9_db:g} dB asks <figure> of "
                f"{block.name} on {worst}{others}{down}; it gives <limit>."
            ),
            figure=watts(most_dbm),
            limit=watts(block.p1db_out_dbm),
            unit="W",
            shown="2",
            remedy=(
                f"Insert a volume control with a range of at least {over} dB before it."
                if control is None
                else f"Give {control.name} a range of at least {ceil(control.range_db + over)} dB."
            ),
            source="level along the path with all controls turned down; common practice for its strength",
        )
