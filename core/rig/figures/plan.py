"""Figures of the frequency plan, the carrier, the VFO and the read-out."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from core.model.bands import SCHEME_WORDS, Scheme
from core.model.values.notation import format_frequency
from core.rig.figures.figure import Figure, Table, band_label, bands_label, label
from core.rig.plan.frequency_plan import BandPlan, vfo_for
from core.rig.read_out.plan import BandReadOut, Options
from core.rig.read_out.schemes import Reading
from core.rig.rows import CarrierRow
from core.stages.outcome import Unsolved
from core.stages.vfo.tank import RangeCover
from core.stages.vfo.vfo import Contribution, VfoFigures, WarmUp

_ARITHMETIC = "mixing arithmetic, dial = carrier ± VFO"

PLAN: Table[BandPlan] = (
    band_label(lambda p: p.band),
    label("scheme", "scheme", lambda p: p.scheme, words=SCHEME_WORDS.__getitem__),
    Figure(
        key="dial",
        keys=("dial_low_hz", "dial_high_hz"),
        title="dial",
        what="From where to where the dial goes.",
        source="the band's edges",
        get=lambda p: (p.dial_low_hz, p.dial_high_hz),
        unit="Hz",
        places=4,
        prefix="M",
    ),
    Figure(
        key="vfo",
        keys=("vfo_low_hz", "vfo_high_hz"),
        title="VFO",
        what="What the VFO has to tune over for that dial.",
        source=_ARITHMETIC,
        get=lambda p: (p.vfo_low_hz, p.vfo_high_hz),
        unit="Hz",
        places=4,
        prefix="M",
    ),
    Figure(
        key="image",
        keys=("image_low_hz", "image_high_hz"),
        title="image",
        what="What the receive mixer turns into the same IF besides the dial.",
        source=_ARITHMETIC,
        get=lambda p: (p.image_low_hz, p.image_high_hz),
        unit="Hz",
        places=4,
        prefix="M",
    ),
    Figure(
        key="carrier_hz",
        title="carrier",
        what="Where the carrier lies at the IF, beside the ladder's pass-band.",
        source="the ladder's exact response and the carrier suppression asked",
        get=lambda p: p.carrier_hz,
        unit="Hz",
        places=6,
        prefix="M",
    ),
    Figure(
        key="sideband_inverted",
        title="turned over",
        what="Whether mixing exchanges the sidebands between dial and IF.",
        source="it does where the VFO runs above the signal and the signal is subtracted",
        get=lambda p: p.sideband_inverted,
    ),
)


@dataclass(frozen=True)
class DialledOn:
    """A band's scheme with the IF, its carrier and the dial as they stand [Hz]."""

    scheme: Scheme
    if_hz: float
    carrier_hz: float
    dial_hz: float


class Dialled(Figure[DialledOn]):
    """A frequency in megahertz to the hertz, its digits grouped as on a dial."""

    def _number(self, value: float) -> str:
        return format_frequency(value, 1)


#: The terms of the rig's arithmetic that follow from the others.
TO_CARRIER = Figure[DialledOn](
    key="to_carrier_hz",
    title="to the carrier",
    what="From the IF to the carrier oscillator, at the edge of the ladder's pass-band.",
    source="the ladder's exact response and the carrier suppression asked",
    get=lambda d: abs(d.carrier_hz - d.if_hz),
    unit="Hz",
    places=3,
    prefix="k",
)
VFO_NOW = Dialled(
    key="vfo_hz",
    title="VFO",
    what="Where the VFO (variable-frequency oscillator) runs at this dial setting.",
    source=_ARITHMETIC,
    get=lambda d: vfo_for(d.scheme, d.carrier_hz, d.dial_hz),
    unit="Hz",
    places=6,
    prefix="M",
)
DIALLED: Table[DialledOn] = (TO_CARRIER, VFO_NOW)


@dataclass(frozen=True)
class CarrierOn:
    """The carrier of one sideband, with the modulator's balance [dB]."""

    row: CarrierRow
    balance_db: float
    automatic: bool


def _coil(of: CarrierOn) -> float | None:
    return None if of.row.pulling is None else of.row.pulling.coil_h


def _reach(of: CarrierOn) -> tuple[float, float] | None:
    pulling = of.row.pulling
    return None if pulling is None else (pulling.reachable_low_hz, pulling.reachable_high_hz)


_EXACT = "the ladder's exact response on its fitted parts"
_PULLED = "total reactance of crystal, coil and trimmer set to zero"


def _other_sideband(tone: str, key: str) -> Figure[CarrierOn]:
    return Figure(
        key=key,
        title=f"other sideband, {tone}",
        what=f"How far the ladder holds the unwanted sideband's {tone} tone below the wanted's.",
        source=_EXACT,
        get=lambda c: float(getattr(c.row.place, key)),
        unit="dB",
        places=0,
    )


CARRIER: Table[CarrierOn] = (
    label("sideband", "sideband", lambda c: c.row.sideband),
    bands_label(lambda c: c.row.bands),
    Figure(
        key="frequency_hz",
        title="carrier",
        what="Where the carrier lies at the IF.",
        source="the ladder's exact response and the carrier suppression asked",
        get=lambda c: c.row.place.frequency_hz,
        unit="Hz",
        places=6,
        prefix="M",
    ),
    Figure(
        key="reachable",
        keys=("reachable_low_hz", "reachable_high_hz"),
        title="trimmer reaches",
        what="What the crystal oscillates at with the trimmer at its ends.",
        source=_PULLED,
        get=_reach,
        unit="Hz",
        places=4,
        prefix="M",
    ),
    Figure(
        key="trimmer_f",
        title="trimmer",
        what="The trimmer's setting that brings the crystal to the carrier.",
        source=_PULLED,
        get=lambda c: c.row.pulling and c.row.pulling.trimmer_f,
        unit="F",
    ),
    Figure(
        key="coil_h",
        title="series coil",
        what="The coil in series with the crystal; 0 where none is needed.",
        source="the smallest with which the trimmer reaches the carrier, or as asked",
        get=_coil,
        unit="H",
    ),
    Figure(
        key="carrier_suppression_db",
        title="carrier with the modulator",
        what="How far the carrier that is left lies below the wanted sideband.",
        source="the ladder's loss at the carrier over its least loss, and the modulator's balance",
        get=lambda c: c.row.place.suppression_db + c.balance_db,
        unit="dB",
        places=0,
    ),
    Figure(
        key="ladder_suppression_db",
        title="carrier at the ladder",
        what="What of that the ladder does.",
        source="the ladder's loss at the carrier over its least loss",
        get=lambda c: c.row.place.suppression_db,
        unit="dB",
        places=0,
    ),
    _other_sideband("300 Hz", "unwanted_sideband_300hz_db"),
    _other_sideband("1 kHz", "unwanted_sideband_1khz_db"),
    _other_sideband("2 kHz", "unwanted_sideband_2khz_db"),
    Figure(
        key="lowest_audio_hz",
        title="lowest tone, −6 dB",
        what="The tone that the ladder's edge puts 6 dB down.",
        source=_EXACT,
        get=lambda c: c.row.place.lowest_audio_hz,
        unit="Hz",
        places=0,
    ),
)


@dataclass(frozen=True)
class VfoOn:
    """The VFO's range on a band and what it does there (None: nothing is known of it); `warm` for what it
    drifts while it warms.
    """

    cover: RangeCover
    found: VfoFigures | None
    warm: WarmUp | None = None


_RESONANCE = "resonance of the whole tank on its fitted parts"
_DRIFT = "temperature coefficients by type of part, each weighed by its share of the tank's energy"

VFO: Table[VfoOn] = (
    band_label(lambda v: v.cover.band),
    Figure(
        key="wanted",
        keys=("wanted_low_hz", "wanted_high_hz"),
        title="wanted",
        what="What the VFO has to tune over.",
        source=_ARITHMETIC,
        get=lambda v: (v.cover.wanted_low_hz, v.cover.wanted_high_hz),
        unit="Hz",
        places=4,
        prefix="M",
    ),
    Figure(
        key="covers",
        keys=("covers_low_hz", "covers_high_hz"),
        title="covered",
        what="What the tuning capacitor reaches from end to end.",
        source=_RESONANCE,
        get=lambda v: (v.cover.covers_low_hz, v.cover.covers_high_hz),
        unit="Hz",
        places=4,
        prefix="M",
    ),
    Figure(
        key="worst_hz_per_turn",
        title="tuning, most",
        what="What a turn of the knob tunes where it tunes fastest on the band.",
        source=f"{_RESONANCE}, travel and reduction",
        get=lambda v: v.found and v.found.dial.worst_hz_per_turn,
        unit="Hz/turn",
    ),
    Figure(
        key="least_hz_per_turn",
        title="tuning, least",
        what="What a turn of the knob tunes where it tunes slowest on the band.",
        source=f"{_RESONANCE}, travel and reduction",
        get=lambda v: v.found and v.found.dial.least_hz_per_turn,
        unit="Hz/turn",
        listed=False,
    ),
    Figure(
        key="turns",
        title="turns over the band",
        what="Turns of the knob from one end of the band to the other.",
        source=f"{_RESONANCE}, travel and reduction",
        get=lambda v: v.found and v.found.dial.turns_used,
        unit="turns",
        listed=False,
    ),
    Figure(
        key="scale_error_hz",
        title="scale printed evenly",
        what="How far a dial with even divisions is off at most.",
        source=_RESONANCE,
        get=lambda v: v.found and v.found.dial.worst_scale_error_hz,
        unit="Hz",
    ),
    Figure(
        key="drift_hz_per_degree",
        title="drift, low and high end",
        what="Drift by temperature at both ends of the band, every coefficient at its nominal value.",
        source=_DRIFT,
        get=lambda v: v.found and tuple(each.hz_per_k for each in v.found.drift),
        unit="Hz/K",
        places=0,
        signed=True,
        joint=" and ",
    ),
    Figure(
        key="drift_ppm_per_degree",
        title="drift, of the frequency",
        what="The same as a share of the VFO's frequency.",
        source=_DRIFT,
        get=lambda v: v.found and tuple(each.ppm_per_k for each in v.found.drift),
        unit="ppm/K",
        places=1,
        signed=True,
        joint=" and ",
        listed=False,
    ),
    Figure(
        key="worst_drift_hz_per_degree",
        title="drift, worst case",
        what="Drift where all coefficients lie at the unkind end of their tolerance together.",
        source=_DRIFT,
        get=lambda v: v.found and max(each.worst_hz_per_k for each in v.found.drift),
        unit="Hz/K",
        places=0,
    ),
    Figure(
        key="start",
        title="start-up, low and high end",
        what="What the oscillator's device gives back over what the tank loses; 2.5 and more is safe.",
        source="transconductance at the bias found, against the tank's losses at the device",
        get=lambda v: v.found and tuple(v.found.start),
        unit="times",
        places=2,
        joint=" and ",
        listed=False,
    ),
    Figure(
        key="start_margin",
        title="start-up",
        what="The lesser of both ends' start-up: what the device gives back over what the tank loses.",
        source="transconductance at the bias found, against the tank's losses at the device",
        get=lambda v: v.found and min(v.found.start),
        unit="times",
        places=2,
    ),
    Figure(
        key="warm_up",
        keys=("warm_up_first_hz", "warm_up_next_hour_hz"),
        title="first 20 min, hour after",
        what="How far the VFO drifts in the first twenty minutes after switching on, and in the hour after.",
        source="drift by temperature, and an exponential rise of the box to its end",
        get=lambda v: v.warm and (abs(v.warm.first_hz), abs(v.warm.next_hour_hz)),
        unit="Hz",
        places=0,
        joint=" and ",
        listed=False,
    ),
)


DRIFT: Table[Contribution] = (
    label("ref", "part", lambda c: c.ref),
    label("kind", "kind", lambda c: c.kind),
    Figure(
        key="share_percent",
        title="share",
        what="A capacitor's share of the electric energy in the tank; the coil holds all of the magnetic.",
        source=_RESONANCE,
        get=lambda c: 100 * c.share,
        unit="%",
        places=1,
    ),
    Figure(
        key="coefficient_ppm",
        title="ppm/K",
        what="The part's own temperature coefficient, in ppm a kelvin.",
        source="typical of its type, the table of temperature coefficients",
        get=lambda c: c.coefficient_ppm,
        unit="ppm/K",
        places=1,
        signed=True,
    ),
    Figure(
        key="effect_ppm",
        title="effect",
        what="What that adds to the drift of the VFO's frequency, in ppm a kelvin.",
        source=_DRIFT,
        get=lambda c: c.effect_ppm,
        unit="ppm/K",
        places=1,
        signed=True,
    ),
)


@dataclass(frozen=True)
class ShownOn:
    """What the counter shows on a band, the display's step [Hz], and the schemes that were looked at."""

    row: BandReadOut
    resolution_hz: float
    options: Options | None = None

    @property
    def reading(self) -> Reading | None:
        """The scheme chosen; None where no scheme works."""
        return None if isinstance(self.row.reading, Unsolved) else self.row.reading


_COUNTED = "arithmetic of the read-out plan"


class Stored(Figure[ShownOn]):
    """What is stored, with the sign that it is counted with."""

    def text(self, of: ShownOn) -> str:
        """What is stored on a band."""
        reading = of.reading
        return self.absent if reading is None else self.counted(reading.offset_hz, reading.direction)

    def read(self, row: Mapping[str, Any]) -> str:
        """What is stored, from a row of JSON."""
        return self.absent if row[self.key] is None else self.counted(row[self.key], row["direction"])

    def counted(self, offset_hz: float, direction: str) -> str:
        """An offset [Hz] that is added, subtracted, or none at all."""
        sign = {"add": "+", "subtract": "−"}.get(direction)
        return "nothing" if sign is None else f"{sign}{self.written(offset_hz)}"


STORED = Stored(
    key="offset_hz",
    title="stored",
    what="What is stored in the counter for the band.",
    source=_COUNTED,
    get=lambda s: s.reading and s.reading.offset_hz,
    unit="Hz",
    places=6,
    prefix="M",
)

READ_OUT: Table[ShownOn] = (
    band_label(lambda s: s.row.band),
    Figure(
        key="scheme",
        title="scheme",
        what="What the counter counts, and what is added or subtracted.",
        source=_COUNTED,
        get=lambda s: s.reading and s.reading.scheme,
        absent="cannot be shown",
    ),
    STORED,
    Figure(
        key="direction",
        title="by",
        what="Whether what is stored is added to the count or subtracted from it.",
        source=_COUNTED,
        get=lambda s: s.reading and s.reading.direction,
        listed=False,
    ),
    Figure(
        key="helper_hz",
        title="helper",
        what="The helper oscillator that the VFO is mixed with before it is counted.",
        source="the crystal that serves every band with the fewest birdies",
        get=lambda s: s.reading and s.reading.helper_hz,
        unit="Hz",
        digits=8,
    ),
    Figure(
        key="counted",
        keys=("counted_low_hz", "counted_high_hz"),
        title="counted",
        what="What the counter sees from one end of the dial to the other.",
        source=_COUNTED,
        get=lambda s: s.reading and (min(s.reading.counted_hz), max(s.reading.counted_hz)),
        unit="Hz",
        places=5,
        prefix="M",
    ),
    Figure(
        key="shows",
        keys=("shows_low_hz", "shows_high_hz"),
        title="shows",
        what="What the display shows at both ends of the dial.",
        source="the count cut to whole steps, as the module forms it",
        get=lambda s: s.reading and s.reading.shows_hz,
        unit="Hz",
        places=5,
        prefix="M",
    ),
    Figure(
        key="resolution_hz",
        title="step",
        what="The smallest step of the display.",
        source="prescaler over gate time",
        get=lambda s: s.resolution_hz,
        unit="Hz",
    ),
    Figure(
        key="error_hz",
        title="off by up to",
        what="How far the display may be off, with carrier and helper as they are known now.",
        source="the counter's clock, and what is assumed of a crystal that was not measured",
        get=lambda s: s.row.error and s.row.error.hz,
        unit="Hz",
        places=0,
    ),
    Figure(
        key="error_measured_hz",
        title="measured, off by",
        what="How far it may be off once carrier and helper are measured with this counter.",
        source="the counter's clock alone",
        get=lambda s: s.row.error and s.row.error.measured_hz,
        unit="Hz",
        places=0,
    ),
    Figure(
        key="unmeasured",
        title="not measured",
        what="What the display counts with and nobody has measured.",
        source="readings entered in the read-out's fields",
        get=lambda s: () if s.row.error is None else s.row.error.unmeasured,
        joint=", ",
    ),
    Figure(
        key="filter",
        title="filter",
        what="What brings the counted product out of the helper's mixer.",
        source=_COUNTED,
        get=lambda s: s.reading and s.reading.filter,
        absent="none",
    ),
    Figure(
        key="programme",
        title="programme",
        what="Which of the counter's stored programmes the band uses.",
        source=_COUNTED,
        get=lambda s: s.row.programme,
        unit="-",
        absent="none",
    ),
)
