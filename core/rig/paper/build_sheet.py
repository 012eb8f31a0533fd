"""The build sheet as data: what is printed to keep beside the breadboard, without any layout."""

from collections.abc import Sequence
from dataclasses import KW_ONLY
from typing import TypeVar

import numpy as np

from core.circuits.ladder import Array, frozen, solve
from core.model.bands import Band
from core.model.stages.stage import Way
from core.model.values.notation import format_value, megahertz
from core.model.values.quantities import spelled
from core.record import record
from core.rig.amplifier_facts import amplifier_facts
from core.rig.analysis import Analysis
from core.rig.figures.amplifiers import AT_REST, told
from core.rig.figures.crystals import MEASURED, measured_of
from core.rig.figures.figure import Table, by_key
from core.rig.figures.filters import FILTER, FilterOn, stress_title
from core.rig.figures.levels import TRANSMIT, sent
from core.rig.figures.mixers import MIXER
from core.rig.figures.plan import CarrierOn
from core.rig.figures.read_out import READ_OUT, switching
from core.rig.figures.receive import RECEIVE
from core.rig.figures.vfo import VFO
from core.rig.findings import Finding
from core.rig.levels.receive import ReceiveLevels
from core.rig.mixer_facts import mixers_of
from core.rig.paper.parts_list import ListedPart, parts_list, placement
from core.rig.paper.receiver import ReceiverSection, receiver_sections
from core.rig.plan.frequency_plan import BandPlan
from core.rig.rows import CircuitRow, FilterRow
from core.rig.rules import inspect
from core.rig.scattered import spreads
from core.rig.sections.rig import carriers_on, shown_on, vfo_on
from core.rig.wound.windings import Winding, vfo_windings, windings_of
from core.stages.amplifiers.pair import amplifiers_in
from core.stages.built.corridor import Corridor, corridor
from core.stages.crystals.crystal_choice import Placed
from core.stages.filters.stress import PartStress
from core.stages.kinds.kind import FRONT
from core.stages.kinds.table import KINDS, kind_of
from core.stages.outcome import Design, Drawable, FilterDesign, PartRow, Unsolved
from core.stages.vfo import vfo
from core.stages.vfo.tank import TankDesign, given_parts

T = TypeVar("T")

#: The usual cautions, in the usual words.
CAUTIONS: tuple[str, ...] = (
    "Transmit only with a licence for the band, and into a dummy load until the spectrum has been checked.",
    "RF burns: keep fingers off the power amplifier, the output filter and the antenna while transmitting, "
    "and keep people away from the antenna as exposure rules ask.",
    "Heat sinks and power transistors run hot enough to burn; let them cool before touching.",
    "Mains supplies and charged capacitors can kill: pull the plug, let capacitors discharge, then measure.",
    "Solder fumes, wire ends and drills: air the room, wear eye protection, cut away from the hand.",
    "Limits printed here are a guide; local rules and licensed practice decide.",
)
#: Widths of the printed small curves.
_POINTS = 241


@record
class PathRow:
    """One stage as printed, a figure a band: gain [dB], level behind it [dBm], headroom [dB]."""

    name: str
    gain_db: tuple[float, ...]
    level_dbm: tuple[float, ...]
    headroom_db: tuple[float | None, ...]


@record
class PathTable:
    """One direction: what the levels stand for, the level at its start, and its stages."""

    title: str
    start: str
    start_dbm: tuple[float, ...]
    rows: tuple[PathRow, ...]
    summary: tuple[str, ...]


@record(slots=False)
class Curve:
    """A small response plot: frequency [Hz] and loss [dB], the range the filter is for, if drawn, and where
    nine of ten like it lie.
    """

    f_hz: Array
    loss_db: Array
    low_hz: float
    high_hz: float
    depth_db: float
    _: KW_ONLY
    scattered: Corridor | None = None


@record(kw_only=True, slots=False)
class FilterSection:
    """One circuit: what its schematic is drawn of, parts, figures, curve; or `reason` why there is none."""

    title: str
    drawing: Drawable | None
    parts: tuple[PartRow, ...]
    figures: tuple[tuple[str, str], ...]
    curve: Curve | None
    reason: str
    placement: tuple[Placed, ...] = ()
    kinds: tuple[str, ...] = ()
    stress: tuple[PartStress, ...] = ()
    stress_title: str = ""
    windings: tuple[Winding, ...] = ()

    def stress_of(self, ref: str) -> PartStress | None:
        """What a part sees at full power; None where nobody asks."""
        return next((each for each in self.stress if each.ref == ref), None)


@record(kw_only=True, slots=False)
class VfoSection:
    """The VFO: its tank and parts, figures a band as (name, a text a band), and what keeps it steady."""

    design: TankDesign | None
    parts: tuple[PartRow, ...]
    kinds: tuple[str, ...]
    bands: tuple[str, ...]
    figures: tuple[tuple[str, tuple[str, ...]], ...]
    limits: tuple[str, ...]
    guidance: tuple[str, ...]
    windings: tuple[Winding, ...] = ()


@record(slots=False)
class ReadOutSection:
    """The read-out: figures as (name, a text a band), what switching changes, and the display's step."""

    bands: tuple[str, ...]
    figures: tuple[tuple[str, tuple[str, ...]], ...]
    switching: tuple[str, ...]
    resolution: str


@record(kw_only=True, slots=False)
class BuildSheet:
    """Everything on the sheet."""

    name: str
    notes: str
    facts: tuple[tuple[str, str], ...]
    bands: tuple[str, ...]
    paths: tuple[PathTable, ...]
    receiver: tuple[ReceiverSection, ...]
    plan: tuple[BandPlan, ...]
    carriers: tuple[CarrierOn, ...]
    filters: tuple[FilterSection, ...]
    mixers: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    vfo: VfoSection | None
    read_out: ReadOutSection | None
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]


def build_sheet(analysis: Analysis) -> BuildSheet:
    """The sheet of a rig."""
    project = analysis.project
    bands = tuple(band.name for band in project.bands)
    listed = parts_list(analysis)
    facts = (
        ("bands", ", ".join(_band_text(band) for band in project.bands)),
        ("IF", format_value(project.if_hz, "Hz", 8)),
        ("power wanted", format_value(project.station.power_w, "W", 3)),
        ("supply", format_value(project.station.supply_v, "V", 3)),
    )
    return BuildSheet(
        name=project.name,
        notes=project.notes,
        facts=facts,
        bands=bands,
        paths=tuple(table for table in (_receive(analysis, bands), _transmit(analysis, bands)) if table.rows),
        receiver=receiver_sections(analysis),
        plan=analysis.frequency_plan,
        carriers=tuple(carriers_on(analysis)),
        filters=tuple(_section(row, analysis, listed) for row in analysis.circuits),
        mixers=tuple((each.name, _texts(MIXER, each)) for each in mixers_of(analysis)),
        vfo=_vfo(analysis, tuple(each.kind for each in listed if each.stage == "vfo")),
        read_out=_read_out(analysis),
        findings=inspect(analysis),
        cautions=CAUTIONS,
    )


def _texts(table: Table[T], of: T) -> tuple[tuple[str, str], ...]:
    """Figures of a result that exist, as (name, text)."""
    return tuple((figure.title, figure.text(of)) for figure in table if figure.get(of) is not None)


def _band_text(band: Band) -> str:
    span = megahertz(band.low_hz, band.high_hz)
    return f"{spelled(band.name)} {span} {band.sideband} sideband"


def _receive(analysis: Analysis, bands: tuple[str, ...]) -> PathTable:
    levels = [analysis.receive(name) for name in bands]
    rows = tuple(
        PathRow(
            block.name,
            tuple(r.blocks[n].gain_db for r in levels),
            tuple(float(r.s9_dbm[n + 1]) for r in levels),
            tuple(r.headroom_db[n] for r in levels),
        )
        for n, block in enumerate(levels[0].blocks)
    )
    summary = tuple(
        f"{spelled(name)}: {_told(RECEIVE, r, 'noise_figure_db')}{_folded(r)}, "
        f"{_told(RECEIVE, r, 'mds_dbm', 'noise_margin_db', 'speaker_noise_db_spl')}"
        for name, r in zip(bands, levels, strict=True)
    )
    return PathTable(
        f"Receive: levels for an S9 signal; headroom at S9 + {levels[0].strongest_over_s9_db:g} dB, "
        + ("with the controls turned down for it" if levels[0].controls else "with the volume fully up"),
        "Antenna",
        tuple(float(r.s9_dbm[0]) for r in levels),
        rows,
        summary,
    )


def _told(table: Table[T], of: T, *keys: str) -> str:
    """Figures of a result in a row, by their titles."""
    return ", ".join(f"{figure.title} {figure.text(of)}" for figure in by_key(table, *keys))


def _folded(r: ReceiveLevels) -> str:
    """What of the noise figure comes in through the mixers' images."""
    images = zip(
        by_key(RECEIVE, "image_noise_db", "detector_image_noise_db"),
        ("the image", "the detector's image"),
        strict=True,
    )
    told = [f"{each.text(r)} of it from {name}" for each, name in images if each.get(r) >= 0.05]
    return f" ({', '.join(told)})" if told else ""


def _transmit(analysis: Analysis, bands: tuple[str, ...]) -> PathTable:
    levels = [analysis.transmit(name) for name in bands]
    rows = tuple(
        PathRow(
            block.name,
            tuple(t.blocks[n].gain_db for t in levels),
            tuple(float(t.level_dbm[n + 1]) for t in levels),
            tuple(t.headroom_db[n] for t in levels),
        )
        for n, block in enumerate(levels[0].blocks)
    )
    summary = []
    for name in bands:
        of = sent(analysis, name)
        tail = f", {_told(TRANSMIT, of, 'worst_harmonic_dbc')} (power amplifier's is an assumption)"
        summary.append(
            f"{spelled(name)}: {_told(TRANSMIT, of, 'output_w')} PEP, {_told(TRANSMIT, of, 'imd_dbc')}"
            f"{tail if of.harmonics else ''}"
        )
    return PathTable(
        "Transmit: levels on speech peaks; compression by a model curve",
        "Microphone",
        tuple(float(t.level_dbm[0]) for t in levels),
        rows,
        tuple(summary),
    )


def _section(row: CircuitRow, analysis: Analysis, listed: tuple[ListedPart, ...]) -> FilterSection:
    bands = " and ".join(map(spelled, row.bands))
    title = row.name if row.index is None else f"{row.name}, {bands or 'no band'}"
    if isinstance(row.design, Unsolved):
        return FilterSection(
            title=title, drawing=None, parts=(), figures=(), curve=None, reason=row.design.reason
        )
    stage = analysis.project.stage(row.stage)
    ladder = kind_of(stage).ladder(stage)
    found = row.figures if isinstance(row, FilterRow) else None
    figures: tuple[tuple[str, str], ...] = ()
    if isinstance(row, FilterRow) and not isinstance(found, Unsolved):
        figures = _figures(FilterOn(analysis, row, row.own_band)) + _measured(row, analysis)
    amplifiers = amplifiers_in(row.design)
    if amplifiers:
        figures = tuple(line for each in amplifiers for line in _amplifier(analysis, row, each.way))
    return FilterSection(
        title=title,
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
    )


def _vfo(analysis: Analysis, kinds: tuple[str, ...]) -> VfoSection | None:
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
        limits=tuple(map(str, made.limits)),
        guidance=vfo.GUIDANCE,
        windings=vfo_windings(analysis),
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
_READ_OUT_PRINTED = by_key(
    READ_OUT, "scheme", "counted", "filter", "offset_hz", "shows", "error_hz", "programme"
)


def _band_rows(table: Table[T], found: Sequence[T]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """A row a figure: its title, and its text on each band."""
    return tuple((figure.title, tuple(figure.text(each) for each in found)) for figure in table)


def _read_out(analysis: Analysis) -> ReadOutSection | None:
    """The read-out's section; None for a rig without a counter."""
    plan, asked = analysis.read_out, analysis.project.read_out
    if plan is None or asked is None:
        return None
    rows = _band_rows(_READ_OUT_PRINTED, shown_on(analysis))
    step = next(figure for figure in READ_OUT if figure.key == "resolution_hz").written(plan.resolution_hz)
    return ReadOutSection(tuple(row.band for row in plan.bands), rows, switching(plan, asked.counter), step)


#: What is printed of a filter, without what it has not.
_FILTER_PRINTED = by_key(
    FILTER,
    "centre_hz",
    "bandwidth_3db_hz",
    "bandwidth_6db_hz",
    "bandwidth_60db_hz",
    "ripple_db",
    "insertion_loss_db",
    "served_loss_db",
    "served_return_loss_db",
    "end_resistance_ohm",
)


def _figures(of: FilterOn) -> tuple[tuple[str, str], ...]:
    had = (figure for figure in _FILTER_PRINTED if figure.get(of) is not None)
    return tuple((figure.title, figure.text(of)) for figure in had)


def _measured(row: CircuitRow, analysis: Analysis) -> tuple[tuple[str, str], ...]:
    """What its measured curve tells of a filter; empty where there is none."""
    (title,) = by_key(MEASURED, "told")
    band = row.bands[0] if row.bands else ""
    return tuple((title.title, title.text(each)) for each in measured_of(analysis, row.stage, band))


def _amplifier(analysis: Analysis, row: CircuitRow, way: Way | None) -> tuple[tuple[str, str], ...]:
    """Figures of an amplifier of parts, and what to measure at each transistor before a signal is put in."""
    stage, band = analysis.project.stage(row.stage), analysis.project.bands[0].name
    facts = amplifier_facts(analysis, stage, band, way or "receive")
    if isinstance(facts, Unsolved):
        return ()
    (at_rest,) = AT_REST
    tail = "" if way is None else f", {way}"
    resting = ((f"{each.ref} {at_rest.title}", at_rest.text(each)) for each in facts.figures.fed)
    lines = (*((figure.title, figure.text(facts)) for figure in told(facts)), *resting)
    return tuple((f"{title}{tail}", text) for title, text in lines)


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
