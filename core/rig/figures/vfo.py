"""Figures of the VFO on a band and of its drift by part."""

from collections.abc import Callable
from typing import Any

from core.record import record
from core.rig.figures.figure import Figure, Table, band_label, label
from core.stages.vfo.compensation import Compensation
from core.stages.vfo.oscillator import Operating
from core.stages.vfo.tank import RangeCover, TankDesign
from core.stages.vfo.vfo import Contribution, Drift, VfoFigures, WarmUp

_ARITHMETIC = "mixing arithmetic, dial = carrier ± VFO"


@record(slots=False)
class VfoOn:
    """The VFO's range on a band and what it does there (None: nothing is known of it); `warm` for what it
    drifts while it warms.
    """

    cover: RangeCover
    found: VfoFigures | None
    warm: WarmUp | None = None


_RESONANCE = "resonance of the whole tank on its fitted parts"
_TURNED = f"{_RESONANCE}, travel and reduction"
_STARTS = "transconductance at the bias found, against the tank's losses at the device"
_DRIFT = "temperature coefficients by type of part, each weighed by its share of the tank's energy"


def _runs(
    key: str, title: str, what: str, get: Callable[[VfoFigures], Any], unit: str, source: str, **how: Any
) -> Figure[VfoOn]:
    """A figure of what the VFO does on a band; none where nothing is known of it."""

    def known(of: VfoOn) -> Any:
        return None if of.found is None else get(of.found)

    return Figure(key=key, title=title, what=what, source=source, get=known, unit=unit, **how)


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
    _runs(
        "worst_hz_per_turn",
        "tuning, most",
        "What a turn of the knob tunes where it tunes fastest on the band.",
        lambda f: f.dial.worst_hz_per_turn,
        "Hz/turn",
        _TURNED,
    ),
    _runs(
        "least_hz_per_turn",
        "tuning, least",
        "What a turn of the knob tunes where it tunes slowest on the band.",
        lambda f: f.dial.least_hz_per_turn,
        "Hz/turn",
        _TURNED,
        listed=False,
    ),
    _runs(
        "turns",
        "turns over the band",
        "Turns of the knob from one end of the band to the other.",
        lambda f: f.dial.turns_used,
        "turns",
        _TURNED,
        listed=False,
    ),
    _runs(
        "scale_error_hz",
        "scale printed evenly",
        "How far a dial with even divisions is off at most.",
        lambda f: f.dial.worst_scale_error_hz,
        "Hz",
        _RESONANCE,
    ),
    _runs(
        "drift_hz_per_degree",
        "drift, low and high end",
        "Drift by temperature at both ends of the band, every coefficient at its nominal value.",
        lambda f: tuple(each.hz_per_k for each in f.drift),
        "Hz/K",
        _DRIFT,
        places=0,
        signed=True,
        joint=" and ",
    ),
    _runs(
        "drift_ppm_per_degree",
        "drift, of the frequency",
        "The same as a share of the VFO's frequency.",
        lambda f: tuple(each.ppm_per_k for each in f.drift),
        "ppm/K",
        _DRIFT,
        places=1,
        signed=True,
        joint=" and ",
        listed=False,
    ),
    _runs(
        "worst_drift_hz_per_degree",
        "drift, worst case",
        "Drift where all coefficients lie at the unkind end of their tolerance together.",
        lambda f: max(each.worst_hz_per_k for each in f.drift),
        "Hz/K",
        _DRIFT,
        places=0,
    ),
    _runs(
        "start",
        "start-up, low and high end",
        "What the oscillator's device gives back over what the tank loses; 2.5 and more is safe.",
        lambda f: tuple(f.start),
        "times",
        _STARTS,
        places=2,
        joint=" and ",
        listed=False,
    ),
    _runs(
        "start_margin",
        "start-up",
        "The lesser of both ends' start-up: what the device gives back over what the tank loses.",
        lambda f: min(f.start),
        "times",
        _STARTS,
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

SOLVED: Table[TankDesign] = (
    Figure(
        key="found",
        title="found",
        what="The parts that were found for what the VFO has to tune over.",
        source="resonance at both ends of every range, values rounded as asked",
        get=lambda t: tuple(t.found),
        joint="; ",
        absent="nothing: all parts are given",
    ),
    Figure(
        key="fixed",
        title="fixed",
        what="The parts around which the others were found.",
        source="the tank's settings and the values as built",
        get=lambda t: tuple(t.fixed),
        joint="; ",
        absent="nothing",
    ),
)

DEVICE: Table[Operating] = (
    label("name", "device", lambda o: o.name),
    Figure(
        key="current_a",
        title="current",
        what="Drain or collector current of the oscillator's device.",
        source="its bias parts, and typical figures of the device",
        get=lambda o: o.current_a,
        unit="A",
        digits=2,
    ),
    Figure(
        key="transconductance_s",
        title="transconductance",
        what="What a volt at the device's input changes of that current.",
        source="the device's law at that current",
        get=lambda o: o.transconductance_s,
        unit="S",
    ),
)

COMPENSATION: Table[Compensation] = (
    Figure(
        key="needed_f",
        title="best",
        what="The exact capacitance of the compensating kind with which the worst place of any band drifts "
        "least.",
        source=_DRIFT,
        get=lambda c: c.needed_f,
        unit="F",
    ),
    Figure(
        key="preferred_f",
        title="preferred",
        what="The best value of the tank's series for it.",
        source=_DRIFT,
        get=lambda c: c.preferred_f,
        unit="F",
    ),
    Figure(
        key="left_hz_per_k",
        title="left",
        what="The drift that is left then at the worst place of any band.",
        source=_DRIFT,
        get=lambda c: c.left_hz_per_k,
        unit="Hz/K",
        places=0,
        signed=True,
    ),
    Figure(
        key="differential_percent",
        title="differential capacitor",
        what="The setting of the differential capacitor that does it instead.",
        source=_DRIFT,
        get=lambda c: None if c.differential_share is None else 100 * c.differential_share,
        unit="%",
        places=0,
    ),
)

DRIFTS_AT = Figure[Drift](
    key="f_hz",
    title="drift at",
    what="The end of the VFO's range on the band where it drifts more.",
    source=_DRIFT,
    get=lambda d: d.f_hz,
    unit="Hz",
    places=3,
    prefix="M",
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
