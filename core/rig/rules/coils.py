"""Rules on coils as they are wound: flux at full power, cores used where they lose."""

from collections.abc import Iterator

from core.circuits.coils.cored import flux_t, most_flux_t
from core.model.values.notation import format_value
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Edit, Finding, rule
from core.rig.rows import FilterRow
from core.stages.coils.winding import choose
from core.stages.kinds.table import kind_of
from core.stages.outcome import FilterDesign, Unsolved
from core.trade.cores import cores


@rule
def core_flux(analysis: Analysis) -> Iterator[Finding]:
    """A small core behind a power amplifier gets hot before it saturates."""
    for row, design in _wound(analysis):
        stress = {each.ref: each for each in analysis.part_stress(row.stage, row.index)}
        dials = analysis.dials(row.bands)
        seen = [
            (flux_t(stress[ref].peak_v / 2**0.5, wound.turns, cores()[wound.on].area_m2, low), ref, low)
            for ref, wound in design.wound
            if ref in stress
            for low, _ in dials
        ]
        if not seen:
            continue
        flux, ref, f_hz = max(seen)
        if flux <= most_flux_t(f_hz):
            continue
        wound = dict(design.wound)[ref]
        larger = _larger(wound.on, wound.inductance_h, f_hz, stress[ref].peak_v / 2**0.5)
        yield Finding(
            severity="caution",
            rule="core_flux",
            stage=row.stage,
            band=row.own_band,
            path=(*row.path, "core"),
            words=f"The core of {ref} of {row.name} on {' and '.join(row.bands)} ({wound.on}) sees <figure> "
            f"at {format_value(f_hz, 'Hz', 3)} where <limit> keeps it cool.",
            figure=flux,
            limit=most_flux_t(f_hz),
            unit="T",
            shown="2",
            remedy=f"Wind it on {larger}." if larger else "Take a larger core, two stacked, or less power.",
            source="a maker's application notes on powdered iron, from memory; into a matched antenna",
            edits=(Edit(f"Wind the coils on {larger}", (((*row.path, "core"), larger),)),) if larger else (),
        )


@rule
def core_range(analysis: Analysis) -> Iterator[Finding]:
    """A core used outside the range of its material costs Q; of transformers that does not matter."""
    for row, design in _wound(analysis):
        tuned = {part.ref for part in design.parts if part.kind == "inductor"}
        coil = next((wound for ref, wound in design.wound if ref in tuned), None)
        if coil is None:
            continue
        name, made_of = coil.on, cores()[coil.on].of
        low, high = _used(analysis, row) or (made_of.low_hz, made_of.high_hz)
        if made_of.low_hz <= low and high <= made_of.high_hz:
            continue
        better = [each.core.core for each in choose(coil.inductance_h, high)][:1]
        yield Finding(
            severity="note",
            rule="core_range",
            stage=row.stage,
            band=row.own_band,
            path=(*row.path, "core"),
            words=f"{row.name} on {' and '.join(map(spelled, row.bands))} is wound on {name}, whose material "
            f"has its best Q from {format_value(made_of.low_hz, 'Hz', 3)} to "
            f"{format_value(made_of.high_hz, 'Hz', 3)}.",
            remedy=f"Wind it on {better[0]}." if better else "Choose another core, or wind in air.",
            source=f"{made_of.source}; {COMMON_PRACTICE} beyond",
            edits=tuple(Edit(f"Wind the coils on {each}", (((*row.path, "core"), each),)) for each in better),
        )


@rule
def carrier_core(analysis: Analysis) -> Iterator[Finding]:
    """A core that cannot be the carrier's coil."""
    for row in analysis.carriers:
        if row.pulling is not None and isinstance(row.pulling.wound, Unsolved):
            yield Finding(
                severity="caution",
                rule="carrier_core",
                stage="carrier",
                path=("carrier", "coil_core"),
                subject=row.sideband,
                words=f"The series coil of the carrier, {format_value(row.pulling.coil_h, 'H', 3)}, cannot "
                f"be wound so: {row.pulling.wound.reason}",
                remedy="Choose another core, or none.",
                source="inductance of one turn from makers' tables",
                edits=(Edit("Choose no core for the series coil", ((("carrier", "coil_core"), ""),)),),
            )


def _wound(analysis: Analysis) -> Iterator[tuple[FilterRow, FilterDesign]]:
    for row in analysis.filters:
        if isinstance(row.design, FilterDesign) and row.design.wound:
            yield row, row.design


def _used(analysis: Analysis, row: FilterRow) -> tuple[float, float] | None:
    """The lowest and highest frequency that a filter works at, Hz; None where it serves no band."""
    stage = analysis.project.stage(row.stage)
    if kind_of(stage).ladder(stage) is not None:
        return analysis.project.if_hz, analysis.project.if_hz
    dials = analysis.dials(row.bands)
    return (min(low for low, _ in dials), max(high for _, high in dials)) if dials else None


def _larger(name: str, inductance_h: float, f_hz: float, volt_rms: float) -> str:
    """The best core that bears the flux, of the same material where there is one; empty where none does."""
    found = choose(inductance_h, f_hz, volt_rms=volt_rms)
    alike = [each for each in found if each.core.mix == cores()[name].mix]
    return (alike or list(found))[0].core.core if found else ""
