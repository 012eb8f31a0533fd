"""Figures of the frequency plan, of the dial, and of the carrier."""

from operator import itemgetter

from core.model.bands import SCHEME_WORDS, Band, Scheme
from core.model.values.notation import format_frequency
from core.record import record
from core.rig.figures.figure import Figure, Table, band_label, bands_label, label
from core.rig.plan.frequency_plan import BandPlan, sideband_at_if, vfo_for
from core.rig.rows import CarrierRow
from core.stages.filters.carrier_oscillator import CarrierPlace
from core.stages.outcome import Unsolved

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


@record(slots=False)
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
#: How far the sliders of dial and IF go.
SLIDER_ENDS: Table[tuple[float, float]] = tuple(
    Figure(
        key=key,
        title=title,
        what=f"The {title} of what the slider turns, in megahertz: the dial over the band, the IF around "
        "where it stands.",
        source="the band's edges; for the IF about two thousandths of it",
        get=itemgetter(place),
        unit="Hz",
        places=3,
        prefix="M",
    )
    for place, (key, title) in enumerate((("low_hz", "lower end"), ("high_hz", "upper end")))
)


@record(slots=False)
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


@record(slots=False)
class CarrierOnBand:
    """A band with its plan and the place that its carrier has, or why it has none."""

    band: Band
    plan: BandPlan
    place: CarrierPlace | Unsolved


def _turned(of: CarrierOnBand) -> str:
    return f"to {sideband_at_if(of.band)}" if of.plan.sideband_inverted else "no"


#: Which carrier each band uses, and why.
BANDS_CARRIER: Table[CarrierOnBand] = (
    band_label(lambda c: c.band.name),
    Figure(
        key="on_air",
        title="on air",
        what="The sideband that is sent and heard on the band.",
        source="the band's settings",
        get=lambda c: c.band.sideband,
    ),
    Figure(
        key="scheme",
        title="scheme",
        what="How the IF and the VFO make the dial frequency.",
        source="the band's settings",
        get=lambda c: c.band.scheme,
        words=SCHEME_WORDS.__getitem__,
    ),
    Figure(
        key="turned",
        title="turned",
        what="Whether mixing exchanges the sidebands between dial and IF, and which it is there.",
        source="it does where the VFO runs above the signal and the signal is subtracted",
        get=_turned,
    ),
    Figure(
        key="carrier",
        title="carrier",
        what="On which side of the ladder's pass-band the band's carrier lies.",
        source="the sideband at the IF",
        get=lambda c: "nowhere" if isinstance(c.place, Unsolved) else c.place.side,
    ),
)

#: On which side of the ladder's pass-band a sideband's carrier lies.
LIES = Figure[CarrierOn](
    key="side",
    title="lies",
    what="On which side of the ladder's pass-band the carrier lies: beyond the edge of the lowest tones.",
    source="the sideband at the IF",
    get=lambda c: c.row.place.side,
    words="{} the filter".format,
)
