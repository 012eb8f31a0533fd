"""Coils on their cores in the rig: what each is, what it bears, and how it is checked."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi, sqrt

from core.circuits.coils.cored import flux_t, most_flux_t
from core.rig.analysis import Analysis
from core.rig.rows import FilterRow
from core.stages.filters.low_pass import PartStress
from core.stages.outcome import Unsolved
from core.stages.wound import Wound
from core.trade.cores import Core, cores
from core.trade.series import preferred


@dataclass(frozen=True, slots=True, kw_only=True)
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


def windings(analysis: Analysis) -> tuple[Winding, ...]:
    """Every coil of the rig whose core was chosen, in the order of the path."""
    return tuple(each for row in analysis.filters for each in windings_of(analysis, row))


def windings_of(analysis: Analysis, row: FilterRow) -> tuple[Winding, ...]:
    """The coils of one filter; empty where no core was chosen."""
    design = row.design
    if isinstance(design, Unsolved) or not design.wound:
        return ()
    dials = analysis.dials(row.bands) or (design.span_hz,)
    middle = sqrt(min(low for low, _ in dials) * max(high for _, high in dials))
    stress = {each.ref: each for each in analysis.part_stress(row.stage, row.index)}
    fitted = {part.ref: part.fitted for part in design.parts}
    return tuple(_winding(row, ref, wound, fitted[ref], stress, dials, middle) for ref, wound in design.wound)


def _winding(
    row: FilterRow,
    ref: str,
    wound: Wound,
    set_h: float,
    stress: Mapping[str, PartStress],
    dials: tuple[tuple[float, float], ...],
    middle_hz: float,
) -> Winding:
    flux: tuple[float | None, float | None] = (None, None)
    if ref in stress:
        volt = stress[ref].peak_v / sqrt(2)
        flux = max(flux_in(cores()[wound.on], wound.turns, volt, low) for low, _ in dials)
    check_f = preferred(1 / ((2 * pi * middle_hz) ** 2 * set_h), "E6")
    return Winding(
        stage=row.stage,
        bands=row.bands,
        ref=ref,
        wound=wound,
        set_h=set_h,
        flux_t=flux[0],
        most_flux_t=flux[1],
        check_f=check_f,
        check_hz=1 / (2 * pi * sqrt(set_h * check_f)),
    )


def flux_in(core: Core, turns: int, volt_rms: float, f_hz: float) -> tuple[float, float]:
    """Flux density in a core with `volt_rms` [V] at `f_hz` [Hz], and what keeps it cool [T]."""
    return flux_t(volt_rms, turns, core.area_m2, f_hz), most_flux_t(f_hz)
