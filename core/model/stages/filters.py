"""Filters: what is asked of them, and which parts were really fitted."""

from collections.abc import Mapping
from typing import ClassVar, Literal, Self

from core.model.stages.stage import Member, StageBase
from core.model.values.as_built import BandPassAsBuilt, LadderAsBuilt, LowPassAsBuilt
from core.model.values.base import Model
from core.model.values.part_names import reference
from core.model.values.parts import Family
from core.model.values.quantities import (
    BandName,
    CoreName,
    Farad,
    Henry,
    Hertz,
    HertzOffset,
    LadderRipple,
    Ohm,
    QualityFactor,
    Ripple,
    stated,
)

#: Series of preferred values by IEC 60063; `exact` keeps the computed value.
Series = Literal["exact", "E6", "E12", "E24", "E48", "E96"]
#: A ladder can also be made of two capacitors in parallel each, or of what is on hand.
LadderSeries = Literal["exact", "E6", "E12", "E24", "E48", "E96", "E12_pairs", "E24_pairs", "junk_box"]
LadderShape = Literal["butterworth", "chebyshev", "equal_coupling", "paired_ends"]
Shape = Literal["butterworth", "chebyshev"]
LowPassShape = Literal["butterworth", "chebyshev", "chebyshev_trap"]
Traps = Literal["second", "second_and_third", "second_of_each_band"]
EndMatch = Literal["none", "transformer", "l_network"]
Flatness = Literal["as_designed", "for_the_crystals"]

#: Filters in a stage, and bands that one may serve.
MOST_MEMBERS = 16
_AS_BUILT = (
    "As built",
    "Part, by role and number, to the value really fitted; it replaces the computed.",
)
_CORE = (
    "Coils on",
    "Core that the coils are wound on with whole turns, which then tells their value and Q; empty: coils of "
    "any value, of the Q below.",
)
_SERIES = ("Capacitors from", "Series of preferred values that the capacitors are taken from.", "E24 or E12")


class Crystal(Model):
    """A crystal by its equivalent circuit (series arm Lm, Cm, Rm with C0 across); Cm follows from fs."""

    offset_hz: HertzOffset = stated(
        0.0,
        "Series resonance above IF",
        "Series resonance less the IF; 0 makes the crystals follow the IF.",
        "0 Hz",
    )
    motional_inductance_h: Henry = stated(
        16e-3, "Motional inductance", "Lm of the crystals.", "3 to 6 mH near 20 MHz, 10 to 20 mH near 9 MHz"
    )
    holder_capacitance_f: Farad = stated(3.5e-12, "Holder capacitance", "C0 of the crystals.", "2.5 to 6 pF")
    quality_factor: QualityFactor = stated(
        75e3, "Crystal Q", "Unloaded Q of the series arm.", "40 000 to 150 000"
    )


class LadderFilter(StageBase):
    """Crystal ladder filter, shunt capacitors between series crystals."""

    family: ClassVar[Family] = "ladder"
    kind: Literal["ladder"] = "ladder"
    shape: LadderShape = stated("chebyshev", "Shape", "Response the ladder is designed for.")
    poles: int = stated(
        8,
        "Poles",
        "Number of meshes, a crystal each; paired end crystals take two more.",
        "4 to 10 for SSB",
        ge=2,
        le=12,
    )
    ripple_db: LadderRipple = stated(0.1, "Ripple", "Pass-band ripple of the Chebyshev shape.", "0.1 dB")
    bandwidth_hz: Hertz = stated(
        2400.0,
        "Bandwidth",
        "Between the ripple edges for Chebyshev, between the −3 dB points for the other shapes.",
        "2.4 kHz for SSB, 500 Hz for CW",
    )
    crystal: Crystal | None = stated(Crystal(), "Crystals", "The crystals of the filter, all alike.")
    refine: bool = stated(
        True,
        "Refine",
        "Fit the parts to the exact response; the textbook design neglects C0 and comes out narrow.",
    )
    flatness: Flatness = stated(
        "as_designed",
        "Flatness",
        "For crystals without loss, whose response the real ones round; or counted with their Q, which keeps "
        "a Butterworth or Chebyshev shape flat and costs loss.",
    )
    capacitors: LadderSeries = stated("E24", *_SERIES)
    end_match: EndMatch = stated(
        "transformer", "End match", "How the filter's ends are brought to the resistance around it."
    )
    core: CoreName = stated(
        "",
        "Match wound on",
        "Core of the end match: of the L-network's coil, which gets whole turns and the Q that follows, or "
        "of the transformer, which gets as many as its ratio and its impedance want; empty: of no matter.",
        "iron powder for an L-network, ferrite for a transformer",
    )
    system_ohm: Ohm = stated(50.0, "Resistance around", "Resistance of the stages on either side.", "50 Ω")
    as_built: LadderAsBuilt = stated((), *_AS_BUILT)

    @property
    def idle_fields(self) -> frozenset[str]:
        """Without a match there is nothing to wind."""
        return frozenset({"core"} if self.end_match == "none" else ())

    @property
    def crystal_places(self) -> tuple[tuple[int | str, ...], ...]:
        """The places of each mesh's crystals: a number, with A and B behind it where two are paired."""
        ends = (1, self.poles) if self.shape == "paired_ends" else ()
        return tuple((f"{n}A", f"{n}B") if n in ends else (n,) for n in range(1, self.poles + 1))

    @property
    def crystal_refs(self) -> tuple[tuple[str, ...], ...]:
        """References of the crystals of each mesh: `X1` one by one, `X1A` and `X1B` where two are paired."""
        return tuple(
            tuple(reference("ladder", "crystal", place) for place in mesh) for mesh in self.crystal_places
        )


class SwitchedFilter(Model):
    """One filter of a stage that has several, switched in on some bands."""

    #: What belongs to the filter's own bands and is not taken over by one for others.
    of_its_bands: ClassVar[tuple[str, ...]] = ("as_built",)
    bands: tuple[BandName, ...] = stated(
        (), "Serves bands", "Names of the bands this filter is switched in on.", max_length=MOST_MEMBERS
    )

    @property
    def idle_fields(self) -> frozenset[str]:
        """Of coils on a core the Q follows from the core."""
        return frozenset({"coil_q"} if getattr(self, "core", "") else ())

    def like_it_for(self, band: str) -> Self:
        """A filter like this one for another band."""
        fresh = self.edited(("bands",), (band,))
        for name in self.of_its_bands:
            fresh = fresh.edited((name,), type(self).model_fields[name].default)
        return fresh


class SwitchedStage(StageBase):
    """A stage with a filter for each band, or one for several."""

    filters: tuple[SwitchedFilter, ...]

    @property
    def members(self) -> tuple[Member, ...]:
        """Each filter, switched in on its bands."""
        return tuple(Member(place, each, each.bands) for place, each in enumerate(self.filters))

    def with_bands_named(self, names: Mapping[str, str]) -> Self:
        """A filter that serves no band any more, after one is gone, goes with it."""
        filters = []
        for each in self.filters:
            bands = tuple(name for name in (names.get(name, name) for name in each.bands) if name)
            if bands or not each.bands:
                filters.append(each if bands == each.bands else each.edited(("bands",), bands))
        return self.edited(("filters",), tuple(filters))


class BandPassFilter(SwitchedFilter):
    """Two or three coupled resonators for one or more bands."""

    family: ClassVar[Family] = "band_pass"
    of_its_bands: ClassVar[tuple[str, ...]] = ("as_built", "centre_hz")
    shape: Shape = stated("butterworth", "Shape", "Response the filter is designed for.")
    ripple_db: LadderRipple = stated(0.1, "Ripple", "Pass-band ripple of the Chebyshev shape.", "0.1 dB")
    resonators: int = stated(2, "Resonators", "Number of tuned circuits.", "2 or 3", ge=2, le=3)
    centre_hz: Hertz | None = stated(
        None, "Centre", "Centre of the pass-band; empty: the middle of its bands."
    )
    bandwidth_hz: Hertz = stated(
        500e3,
        "Bandwidth",
        "Between the −3 dB points (Butterworth) or the ripple edges (Chebyshev).",
        "3 to 8 % of the centre",
    )
    coupling: Literal["automatic", "top_capacitor", "shunt_capacitor", "mutual_inductance"] = stated(
        "top_capacitor",
        "Coupling",
        "Small capacitors between parallel-tuned circuits, large shunt ones between series-tuned circuits, "
        "or mutual inductance of two parallel-tuned coils in air side by side; automatic: the small ones "
        "unless wiring would decide what they are, the coils where no capacitor can do it.",
    )
    ends: Literal["series_capacitor", "tapped_capacitor", "tapped_coil", "link"] = stated(
        "series_capacitor",
        "Ends",
        "How the end resonators meet the resistance around the filter; on a core taps and links have whole "
        "turns, and the rest is fitted around them.",
    )
    widths_with_q: bool = stated(
        False,
        "Width with Q",
        "Design so that width and centre come out as asked with the coils' Q, which rounds the edges, and so "
        "that the ends match best with it.",
    )
    inductance_h: Henry | None = stated(
        None, "Coil", "Inductance of each resonator; empty: a sensible one.", "100 to 250 Ω reactance"
    )
    core: CoreName = stated("", *_CORE)
    coil_q: QualityFactor = stated(200.0, "Coil Q", "Unloaded Q of the coils.", "150 to 250 on powdered iron")
    capacitors: Series = stated("exact", *_SERIES)
    system_ohm: Ohm = stated(50.0, "Resistance around", "Resistance of the stages on either side.", "50 Ω")
    as_built: BandPassAsBuilt = stated((), *_AS_BUILT)


class BandPass(SwitchedStage):
    """The band-pass filters, one switched in on each band."""

    kind: Literal["band_pass"] = "band_pass"
    filters: tuple[BandPassFilter, ...] = stated((), "Filters", "One filter a band.", max_length=MOST_MEMBERS)


class LowPassFilter(SwitchedFilter):
    """A low-pass of alternating shunt capacitors and series coils."""

    family: ClassVar[Family] = "low_pass"
    of_its_bands: ClassVar[tuple[str, ...]] = ("as_built", "cutoff_hz")
    shape: LowPassShape = stated(
        "chebyshev", "Shape", "Response; with traps some coils are tuned to harmonics by a capacitor across."
    )
    traps: Traps = stated(
        "second",
        "Traps on",
        "The second harmonic of the lowest band served, the third too, or the second of every band; each "
        "takes a coil, of which the one that the worst harmonic gains most by.",
    )
    order: int = stated(
        7,
        "Order",
        "Number of reactive parts, traps' capacitors not counted; an even one ends in a coil at the antenna.",
        "5 to 7",
        ge=3,
        le=11,
    )
    ripple_db: Ripple = stated(0.1, "Ripple", "Pass-band ripple of the Chebyshev shape.", "0.01 to 0.1 dB")
    cutoff_hz: Hertz | None = stated(
        None,
        "Cut-off",
        "Ripple edge (Chebyshev) or −3 dB point (Butterworth); empty: above the highest dial frequency by "
        "5 %, by 26 % for Butterworth, which otherwise loses 2 dB there.",
        "5 to 15 % above the band",
    )
    core: CoreName = stated("", *_CORE)
    coil_q: QualityFactor = stated(150.0, "Coil Q", "Unloaded Q of the coils.", "120 to 220")
    capacitor_q: QualityFactor = stated(500.0, "Capacitor Q", "Unloaded Q of the capacitors.", "300 to 2000")
    capacitors: Series = stated("E24", *_SERIES)
    system_ohm: Ohm = stated(
        50.0, "Resistance around", "Resistance of the antenna and the PA's transformer.", "50 Ω"
    )
    as_built: LowPassAsBuilt = stated((), *_AS_BUILT)

    @property
    def idle_fields(self) -> frozenset[str]:
        """Which harmonics have a trap is asked of a filter with traps alone."""
        idle = super().idle_fields
        return idle if self.shape == "chebyshev_trap" else idle | {"traps"}


class LowPass(SwitchedStage):
    """The low-pass filters between PA and antenna; two bands can share one."""

    kind: Literal["low_pass"] = "low_pass"
    filters: tuple[LowPassFilter, ...] = stated(
        (), "Filters", "Each serves one or more bands.", max_length=MOST_MEMBERS
    )
