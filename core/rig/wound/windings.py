"""Coils on their cores in the rig: what each is, what it bears, and how it is checked."""

from math import pi, sqrt

from core.circuits.coils.cored import flux_t, most_flux_t
from core.model.values.part_names import reference
from core.record import record
from core.rig.analysis import Analysis
from core.rig.rows import CircuitRow
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.outcome import FilterDesign, Unsolved
from core.stages.vfo.tank import TankDesign
from core.stages.wound import Wound
from core.trade.cores import Core, cores
from core.trade.series import preferred

#: A capacitor to check a coil with, less than which is mostly the coil's own and the leads', F.
_LEAST_CHECK_F = 33e-12
#: With less Q than this [-] nobody sees where a coil resonates; a choice.
_RINGS = 10.0
#: What the coil in series with the carrier's crystal is called where the oscillator is a block.
_SERIES_COIL = "series coil"


@record(kw_only=True)
class Winding:
    """A coil as it is wound, in its place in the rig.

    `set_h` [H] is what the circuit is solved with, to which the turns are squeezed or spread. `flux_t` and
    `most_flux_t` [T] are at full power, None where the transmitter's power does not pass. With `check_f` [F]
    across it the coil resonates at `check_hz` [Hz].
    """

    stage: str
    bands: tuple[str, ...]
    ref: str
    wound: Wound
    set_h: float
    flux_t: float | None
    most_flux_t: float | None
    check_f: float
    check_hz: float

    @property
    def rings(self) -> bool:
        """Whether it has Q enough to show where it resonates: a broadband transformer's ferrite takes it."""
        return self.wound.quality >= _RINGS


def windings(analysis: Analysis) -> tuple[Winding, ...]:
    """Every coil of which it was said how it is wound: in the order of the path, the carrier's, the VFO's."""
    of_stages = (each for row in analysis.circuits for each in windings_of(analysis, row))
    return (*of_stages, *carrier_windings(analysis), *vfo_windings(analysis))


def carrier_windings(analysis: Analysis) -> tuple[Winding, ...]:
    """The coil in series with the carrier's crystal, for each sideband; empty where none is on a core."""
    made = analysis.carrier_circuit
    if isinstance(made, CrystalOscillatorDesign):
        every = tuple(band.name for band in analysis.project.bands)
        fitted = {part.ref: part.fitted for part in made.parts}
        hz = max(place.wanted_hz for place in made.asked.places)
        return tuple(_winding("carrier", every, ref, coil, fitted[ref], hz) for ref, coil in made.wound)
    found = []
    for row in analysis.carriers:
        if row.pulling is not None and isinstance(row.pulling.wound, Wound):
            coil, hz = row.pulling.wound, row.pulling.wanted_hz
            found.append(_winding("carrier", row.bands, _SERIES_COIL, coil, row.pulling.coil_h, hz))
    return tuple(found)


def vfo_windings(analysis: Analysis) -> tuple[Winding, ...]:
    """The VFO's coil; empty where nothing was said of how it is wound."""
    made = analysis.tank
    if not isinstance(made, TankDesign) or made.wound is None:
        return ()
    ends = [hz for cover in made.ranges for hz in (cover.wanted_low_hz, cover.wanted_high_hz)]
    bands = tuple(cover.band for cover in made.ranges)
    coil = reference("tank", "coil")
    return (_winding("vfo", bands, coil, made.wound, made.coil_h, sqrt(min(ends) * max(ends))),)


def windings_of(analysis: Analysis, row: CircuitRow) -> tuple[Winding, ...]:
    """The coils of one circuit; empty where no core was chosen."""
    design = row.design
    wound = () if isinstance(design, Unsolved) else getattr(design, "wound", ())
    if isinstance(design, Unsolved) or not wound:
        return ()
    dials = analysis.dials(row.bands) or (design.span_hz,)
    middle = sqrt(min(low for low, _ in dials) * max(high for _, high in dials))
    volts = {each.ref: each.peak_v / sqrt(2) for each in analysis.part_stress(row.stage, row.index)}
    fitted = {part.ref: part.fitted for part in design.parts if part.kind == "inductor"}
    found = []
    for ref, coil in wound:
        flux = None
        if ref in volts:
            flux = max(flux_in(cores()[coil.on], coil.turns, volts[ref], low) for low, _ in dials)
        # A transformer's windings are no parts of their own, nor squeezed or spread.
        set_h = fitted.get(ref, coil.inductance_h)
        found.append(_winding(row.stage, row.bands, ref, coil, set_h, middle, flux))
    return tuple(found)


def cores_of(analysis: Analysis) -> dict[tuple[str, tuple[str, ...], str], str]:
    """What each coil and transformer of the rig is wound on, by stage, bands and reference."""
    found = {(each.stage, each.bands, each.ref): each.wound.on for each in windings(analysis)}
    for row in analysis.circuits:
        for ref, core in getattr(row.design, "cores", ()):
            found[row.stage, row.bands, ref] = core
    return found


@record(kw_only=True)
class FreeCoil:
    """A coil for which no core was chosen: its inductance [H], and how it is checked, as a `Winding` is."""

    ref: str
    set_h: float
    check_f: float
    check_hz: float


def free_coils(analysis: Analysis, row: CircuitRow) -> tuple[FreeCoil, ...]:
    """The coils of a filter for which no core was chosen."""
    design = row.design
    if not isinstance(design, FilterDesign):
        return ()
    dials, wound = analysis.dials(row.bands) or (design.span_hz,), {ref for ref, _ in design.wound}
    middle = sqrt(min(low for low, _ in dials) * max(high for _, high in dials))
    found = []
    for part in design.parts:
        if part.kind == "inductor" and part.ref not in wound:
            check_f, check_hz = _checked(part.fitted, middle)
            found.append(FreeCoil(ref=part.ref, set_h=part.fitted, check_f=check_f, check_hz=check_hz))
    return tuple(found)


def _checked(set_h: float, middle_hz: float) -> tuple[float, float]:
    """With which capacitor [F] a coil resonates near a frequency [Hz], and where just [Hz]."""
    check_f = preferred(max(1 / ((2 * pi * middle_hz) ** 2 * set_h), _LEAST_CHECK_F), "E6")
    return check_f, 1 / (2 * pi * sqrt(set_h * check_f))


def _winding(
    stage: str,
    bands: tuple[str, ...],
    ref: str,
    wound: Wound,
    set_h: float,
    middle_hz: float,
    flux: tuple[float, float] | None = None,
) -> Winding:
    check_f, check_hz = _checked(set_h, middle_hz)
    return Winding(
        stage=stage,
        bands=bands,
        ref=ref,
        wound=wound,
        set_h=set_h,
        flux_t=None if flux is None else flux[0],
        most_flux_t=None if flux is None else flux[1],
        check_f=check_f,
        check_hz=check_hz,
    )


def flux_in(core: Core, turns: int, volt_rms: float, f_hz: float) -> tuple[float, float]:
    """Flux density in a core with `volt_rms` [V] at `f_hz` [Hz], and what keeps it cool [T]."""
    return flux_t(volt_rms, turns, core.area_m2, f_hz), most_flux_t(f_hz)
