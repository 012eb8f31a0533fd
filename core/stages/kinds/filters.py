"""Ladder, band-pass and low-pass in the table of kinds."""

from core.circuits.active.two_port import TwoPort
from core.model.stages.filters import (
    BandPass,
    LadderFilter,
    LowPass,
    LowPassFilter,
)
from core.stages.band_pass import band_pass
from core.stages.filters import ladder_filter, low_pass, stress
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.filters.stress import PartStress
from core.stages.kinds.kind import (
    SPEECH_TONE_HZ,
    BlockFigures,
    Kind,
    Making,
    Place,
    Surroundings,
    draws_nothing,
    passive,
)
from core.stages.loss import noisy
from core.stages.on_hand import ALL_BOUGHT
from core.stages.ordinary import ordinary_band_pass, ordinary_ladder, ordinary_low_pass, typical_crystal
from core.stages.outcome import FilterDesign
from core.stages.tolerance import filters


def _missing(stage: BandPass | LowPass | LadderFilter, at: Place) -> BlockFigures:
    """One that cannot be designed counts as no loss, and a finding says so."""
    return passive(0.0)


def _noisy(stage: BandPass | LowPass | LadderFilter, at: Place, f_hz: tuple[float, ...]) -> TwoPort | None:
    if not isinstance(at.design, FilterDesign):
        return None
    return noisy(at.design, f_hz, from_far_end=at.way == "transmit")


def asked_ladder(ladder: LadderFilter, around: Surroundings) -> AskedLadder:
    """A ladder at the IF around; the junk box's capacitors only for one made of them, as no other uses it."""
    if ladder.capacitors == "junk_box":
        return AskedLadder(ladder, around.if_hz, around.capacitors_f)
    return AskedLadder(
        ladder, around.if_hz, shelf=ALL_BOUGHT if ladder.capacitors == "exact" else around.shelf
    )


def _low_pass_stress(one: LowPassFilter, around: Surroundings, power_w: float) -> tuple[PartStress, ...]:
    return stress.worst_stress(one, around.dials(one.bands), power_w, around.shelf)


LADDER = Kind(
    model=LadderFilter,
    name="Ladder filter",
    spelled="Crystal ladder filter",
    short=lambda zone, way: "xtal",
    role="channel_filter",
    gain_is=f"its gain at a tone of {SPEECH_TONE_HZ / 1e3:g} kHz, not its least loss",
    default=lambda bands, if_hz: ordinary_ladder(if_hz),
    at_if=lambda ladder, was_hz, if_hz: ladder.edited(("crystal",), typical_crystal(if_hz)),
    block=_missing,
    two_port=_noisy,
    making=Making(
        design=lambda ladder, around: ladder_filter.design(asked_ladder(ladder, around)),
        figures=lambda ladder, around: ladder_filter.figures(asked_ladder(ladder, around)),
        judging=filters.LADDER,
    ),
    ladder=lambda ladder: ladder,
    draws=draws_nothing,
)

BAND_PASS = Kind(
    model=BandPass,
    name="Band-pass",
    spelled="Band-pass filter",
    short=lambda zone, way: "BP",
    role="band_pass",
    default=lambda bands, if_hz: BandPass(
        id="band_pass", name="Band-pass", filters=tuple(map(ordinary_band_pass, bands))
    ),
    block=_missing,
    two_port=_noisy,
    making=Making(
        fresh=ordinary_band_pass,
        design=lambda one, around: band_pass.design(one, around.dials(one.bands), around.shelf),
        figures=lambda one, around: band_pass.figures(one, around.dials(one.bands), around.shelf),
        judging=filters.BAND_PASS,
    ),
    draws=draws_nothing,
)

LOW_PASS = Kind(
    model=LowPass,
    name="Low-pass",
    spelled="Low-pass filter",
    short=lambda zone, way: "LP",
    role="low_pass",
    default=lambda bands, if_hz: LowPass(
        id="low_pass", name="Low-pass", filters=tuple(map(ordinary_low_pass, bands))
    ),
    block=_missing,
    two_port=_noisy,
    making=Making(
        fresh=ordinary_low_pass,
        design=lambda one, around: low_pass.design(one, around.dials(one.bands), around.shelf),
        figures=lambda one, around: low_pass.figures(one, around.dials(one.bands), around.shelf),
        judging=filters.LOW_PASS,
        stress=_low_pass_stress,
    ),
    draws=draws_nothing,
)
