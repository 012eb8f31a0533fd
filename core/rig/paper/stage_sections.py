"""Sections of the build sheet, one a circuit: drawing, parts, figures, coils and what is read first."""

from collections.abc import Sequence
from typing import TypeVar

import numpy as np

from core.circuits.ladder import frozen, solve
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.figures.figure import Table, by_key
from core.rig.figures.filters import FilterOn, stress_title
from core.rig.figures.mixers import MIXER
from core.rig.figures.read_out import READ_OUT, switching
from core.rig.figures.vfo import VFO
from core.rig.mixer_facts import mixer_facts
from core.rig.paper.parts_list import ListedPart, placement
from core.rig.paper.sheet_model import (
    Curve,
    FilterSection,
    PlainSection,
    ReadOutSection,
    VfoSection,
)
from core.rig.paper.stage_figures import (
    amplifier,
    filter_figures,
    in_its_place,
    measured,
    of_its_kind,
    texts,
    verify,
)
from core.rig.rows import CircuitRow, FilterRow
from core.rig.scattered import spreads
from core.rig.sections.crystal_oscillators import CRYSTAL_OSCILLATOR, OscillatorAt, oscillators_at
from core.rig.sections.rig import shown_on, vfo_on
from core.rig.sections.supply import TOTALS
from core.rig.supply.soldered import supply_soldered
from core.rig.supply.state import totals
from core.rig.workshop.crystal_circuits import helper_circuit
from core.rig.wound.ends import ends_of, vfo_ends
from core.rig.wound.windings import (
    carrier_windings,
    free_coils,
    vfo_windings,
    windings_of,
)
from core.stages.amplifiers.pair import amplifiers_in
from core.stages.built.corridor import corridor
from core.stages.kinds.kind import FRONT, Role
from core.stages.kinds.table import KINDS, kind_of
from core.stages.outcome import Design, FilterDesign, Unsolved
from core.stages.vfo import vfo
from core.stages.vfo.tank import given_parts

T = TypeVar("T")
#: What a stage of a role is to be handled with, where it is built.
_CAUTIONS: dict[Role, str] = {
    "power_amplifier": "Hot, and RF that burns: heat sink on and dummy load connected before it is fed.",
    "low_pass": "All of the power passes here: no finger on it while the key is down.",
}
#: Points of a printed response.
_POINTS = 241


def circuit_section(row: CircuitRow, analysis: Analysis, listed: tuple[ListedPart, ...]) -> FilterSection:
    """The section of a circuit of a stage; `listed` are all parts of the rig."""
    bands = " and ".join(map(spelled, row.bands))
    title = row.name if row.index is None else f"{row.name}, {bands or 'no band'}"
    if isinstance(row.design, Unsolved):
        return FilterSection(title=title, stage=row.stage, reason=row.design.reason)
    stage = analysis.project.stage(row.stage)
    ladder = kind_of(stage).ladder(stage)
    found = row.figures if isinstance(row, FilterRow) else None
    figures: tuple[tuple[str, str], ...] = ()
    if isinstance(row, FilterRow) and not isinstance(found, Unsolved):
        figures = filter_figures(FilterOn(analysis, row, row.own_band)) + measured(row, analysis)
    amplifiers = amplifiers_in(row.design)
    if amplifiers:
        figures = tuple(line for each in amplifiers for line in amplifier(analysis, row, each.way))
    elif not isinstance(row, FilterRow):
        figures = of_its_kind(analysis, row)
    return FilterSection(
        title=title,
        stage=row.stage,
        caution=_CAUTIONS.get(KINDS[row.kind].role, ""),
        bands=row.bands,
        verify=verify(figures),
        drawing=row.design.drawing,
        parts=row.design.parts,
        figures=figures,
        curve=_curve(row, analysis, row.design),
        reason=found.reason if isinstance(found, Unsolved) else "",
        placement=() if ladder is None else placement(analysis, ladder),
        kinds=tuple(each.kind for each in listed if (each.stage, each.index) == (row.stage, row.index)),
        stress=analysis.part_stress(row.stage, row.index),
        stress_title=stress_title(analysis),
        windings=windings_of(analysis, row),
        ends=ends_of(analysis, row),
        free=free_coils(analysis, row),
    )


def plain_sections(analysis: Analysis) -> tuple[PlainSection, ...]:
    """The stages in the path that no circuit is known of, in its order; each once."""
    project = analysis.project
    made = {row.stage for row in analysis.circuits}
    found = []
    for stage in project.stages:
        if stage.id in made or not stage.in_path:
            continue
        kind, mixes = kind_of(stage), mixer_facts(analysis, stage, project.bands[0].name)
        figures = in_its_place(analysis, stage, None) if isinstance(mixes, Unsolved) else texts(MIXER, mixes)
        found.append(
            PlainSection(
                title=stage.name,
                stage=stage.id,
                kind=kind.spelled,
                figures=figures,
                verify=verify(figures),
                drawing=None if isinstance(mixes, Unsolved) else stage,
                caution=_CAUTIONS.get(kind.role, ""),
            )
        )
    return tuple(found)


def crystal_oscillators(analysis: Analysis, listed: tuple[ListedPart, ...]) -> tuple[FilterSection, ...]:
    """The sections of carrier and helper where they are made of parts."""
    found = []
    for row in analysis.oscillators:
        made = row.design
        if isinstance(made, Unsolved):
            found.append(FilterSection(title=row.name, stage=row.stage, reason=made.reason))
            continue
        mine = [each for each in oscillators_at(analysis) if each.design is made]
        figures = _at_each(_OSCILLATOR_PRINTED, mine)
        figures += texts(by_key(CRYSTAL_OSCILLATOR, "current_a"), mine[0])
        found.append(
            FilterSection(
                title=row.name,
                stage=row.stage,
                bands=row.bands,
                verify=(*_at_each(_RUNS_AT, mine)[:1], *_at_each(_DELIVERS, mine)[:2]),
                drawing=made.drawing,
                parts=made.parts,
                figures=figures,
                kinds=tuple(each.kind for each in listed if each.stage == row.stage),
                windings=carrier_windings(analysis) if row.stage == "carrier" else (),
            )
        )
    return tuple(found)


def _at_each(table: Table[OscillatorAt], rows: Sequence[OscillatorAt]) -> tuple[tuple[str, str], ...]:
    """Figures of an oscillator at each of its frequencies, which are told apart where there are several."""
    return tuple(
        (f"{title}, {each.working.place.which}" if len(rows) > 1 else title, text)
        for each in rows
        for title, text in texts(table, each)
    )


_RUNS_AT, _DELIVERS = by_key(CRYSTAL_OSCILLATOR, "frequency_hz"), by_key(CRYSTAL_OSCILLATOR, "output_dbm")
_OSCILLATOR_PRINTED = by_key(
    CRYSTAL_OSCILLATOR,
    "frequency_hz",
    "off_hz",
    "start_margin",
    "usual_margin",
    "crystal_w",
    "output_dbm",
)


def vfo_section(analysis: Analysis, kinds: tuple[str, ...]) -> VfoSection | None:
    """The VFO's section; None for a VFO without a tank."""
    made = analysis.tank
    if made is None:
        return None
    if isinstance(made, Unsolved):
        return VfoSection(
            design=None,
            parts=(),
            kinds=(),
            bands=(),
            figures=(),
            limits=(made.reason,),
            guidance=vfo.GUIDANCE,
        )
    bands = tuple(cover.band for cover in made.ranges)
    rows = _band_rows(_VFO_PRINTED, vfo_on(analysis))
    return VfoSection(
        design=made,
        parts=(*made.parts, *given_parts(made)),
        kinds=kinds,
        bands=bands,
        figures=rows,
        verify=tuple(
            (f"{title}, {spelled(bands[0])}", texts[0])
            for title, texts in _band_rows(_VFO_VERIFIED, vfo_on(analysis)[:1])
            if texts
        ),
        limits=tuple(map(str, made.limits)),
        guidance=vfo.GUIDANCE,
        windings=vfo_windings(analysis),
        ends=vfo_ends(analysis),
    )


#: Currents of the whole rig that are read first.
_FED = ("receive_a", "full_a")


def supply_section(analysis: Analysis, kinds: tuple[str, ...]) -> FilterSection | None:
    """The supply's circuit; None where none is planned."""
    made = supply_soldered(analysis)
    if made is None:
        return None
    nominal = next(each for each in totals(made.feeding) if each.of == "nominal")
    return FilterSection(
        title="Supply",
        stage="supply",
        verify=(
            *((f"current, {name}", text) for name, text in texts(by_key(TOTALS, *_FED), nominal)),
            *texts(by_key(TOTALS, "transmit_v"), nominal),
        ),
        drawing=made,
        parts=made.parts,
        kinds=kinds,
    )


_VFO_PRINTED = by_key(
    VFO,
    "wanted",
    "covers",
    "worst_hz_per_turn",
    "drift_hz_per_degree",
    "worst_drift_hz_per_degree",
    "start_margin",
)
_VFO_VERIFIED = by_key(VFO, "covers", "worst_hz_per_turn", "worst_drift_hz_per_degree")
_READ_OUT_PRINTED = by_key(
    READ_OUT, "scheme", "counted", "filter", "offset_hz", "shows", "error_hz", "programme"
)


def _band_rows(table: Table[T], found: Sequence[T]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """A row a figure: its title, and its text on each band."""
    return tuple((figure.title, tuple(figure.text(each) for each in found)) for figure in table)


def read_out_section(analysis: Analysis) -> ReadOutSection | None:
    """The read-out's section; None for a rig without a counter."""
    plan, asked = analysis.read_out, analysis.project.read_out
    if plan is None or asked is None:
        return None
    rows = _band_rows(_READ_OUT_PRINTED, shown_on(analysis))
    step = next(figure for figure in READ_OUT if figure.key == "resolution_hz").written(plan.resolution_hz)
    return ReadOutSection(
        tuple(row.band for row in plan.bands),
        rows,
        switching(plan, asked.counter),
        step,
        helper_circuit(analysis),
    )


def _curve(row: CircuitRow, analysis: Analysis, design: Design) -> Curve | None:
    """A filter's response; None for other circuits."""
    if not isinstance(design, FilterDesign):
        return None
    low, high = design.span_hz
    dials = analysis.dials(row.bands)
    if KINDS[row.kind].role in FRONT:
        used = (min(d[0] for d in dials), max(d[1] for d in dials)) if dials else (low, high)
        depth = 60.0
    else:
        used, depth = analysis.if_pass_band_hz, 80.0
    f = frozen(np.linspace(low, high, _POINTS))
    scattered = corridor(design, f, spreads(analysis.project.scatter), dials)
    return Curve(f, solve(design.network, f).loss_db, *used, depth, scattered=scattered)
