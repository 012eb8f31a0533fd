"""The build sheet as data: what is printed to keep beside the breadboard, without any layout."""

from dataclasses import dataclass

import numpy as np

from core.circuits.ladder import Array, frozen, solve
from core.model.bands import Band
from core.model.values.notation import format_frequency, format_value, signed
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.findings import Finding
from core.rig.levels.levels import ReceiveLevels
from core.rig.paper.parts_list import ListedPart, parts_list, placement
from core.rig.plan.frequency_plan import BandPlan
from core.rig.read_out.plan import BandReadOut
from core.rig.rows import CarrierRow, CircuitRow, FilterRow
from core.rig.rules import inspect
from core.stages.crystals.crystal_choice import Placed
from core.stages.filters.low_pass import PartStress
from core.stages.kinds.kind import FRONT
from core.stages.kinds.table import KINDS, kind_of
from core.stages.outcome import Design, Drawable, FilterDesign, FilterFigures, PartRow, Unsolved
from core.stages.vfo import vfo
from core.stages.vfo.tank import RangeCover, TankDesign, given_parts
from core.stages.vfo.vfo import VfoFigures

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


@dataclass(frozen=True, slots=True)
class PathRow:
    """One stage as printed, a figure a band: gain [dB], level behind it [dBm], headroom [dB]."""

    name: str
    gain_db: tuple[float, ...]
    level_dbm: tuple[float, ...]
    headroom_db: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class PathTable:
    """One direction: what the levels stand for, the level at its start, and its stages."""

    title: str
    start: str
    start_dbm: tuple[float, ...]
    rows: tuple[PathRow, ...]
    summary: tuple[str, ...]


@dataclass(frozen=True)
class Curve:
    """A small response plot: frequency [Hz] and loss [dB], and the range the filter is for, if drawn."""

    f_hz: Array
    loss_db: Array
    low_hz: float
    high_hz: float
    depth_db: float


@dataclass(frozen=True, kw_only=True)
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
    full_power_w: float = 0.0

    def stress_of(self, ref: str) -> PartStress | None:
        """What a part sees at full power; None where nobody asks."""
        return next((each for each in self.stress if each.ref == ref), None)


@dataclass(frozen=True, kw_only=True)
class VfoSection:
    """The VFO: its tank and parts, figures a band as (name, a text a band), and what keeps it steady."""

    design: TankDesign | None
    parts: tuple[PartRow, ...]
    kinds: tuple[str, ...]
    bands: tuple[str, ...]
    figures: tuple[tuple[str, tuple[str, ...]], ...]
    limits: tuple[str, ...]
    guidance: tuple[str, ...]


@dataclass(frozen=True)
class ReadOutSection:
    """The read-out: figures as (name, a text a band), what switching changes, and the display's step."""

    bands: tuple[str, ...]
    figures: tuple[tuple[str, tuple[str, ...]], ...]
    switching: tuple[str, ...]
    resolution: str


@dataclass(frozen=True, kw_only=True)
class BuildSheet:
    """Everything on the sheet; `coil_automatic`: the carrier's coil is the program's choice."""

    name: str
    notes: str
    facts: tuple[tuple[str, str], ...]
    bands: tuple[str, ...]
    paths: tuple[PathTable, ...]
    plan: tuple[BandPlan, ...]
    carriers: tuple[CarrierRow, ...]
    coil_automatic: bool
    filters: tuple[FilterSection, ...]
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
        ("IF", format_frequency(project.if_hz, 100)),
        ("power wanted", format_value(project.station.power_w, "W", 3)),
        ("supply", format_value(project.station.supply_v, "V", 3)),
    )
    return BuildSheet(
        name=project.name,
        notes=project.notes,
        facts=facts,
        bands=bands,
        paths=tuple(table for table in (_receive(analysis, bands), _transmit(analysis, bands)) if table.rows),
        plan=analysis.frequency_plan,
        carriers=analysis.carriers,
        coil_automatic=project.carrier.coil_h is None,
        filters=tuple(_section(row, analysis, listed) for row in analysis.circuits),
        vfo=_vfo(analysis, tuple(each.kind for each in listed if each.stage == "vfo")),
        read_out=_read_out(analysis),
        findings=inspect(analysis),
        cautions=CAUTIONS,
    )


def _band_text(band: Band) -> str:
    span = f"{band.low_hz / 1e6:.3f} to {band.high_hz / 1e6:.3f} MHz"
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
        f"{spelled(name)}: noise figure {r.noise_figure_db:.1f} dB{_folded(r)}, MDS {r.mds_dbm:.0f} dBm, "
        f"band noise {r.noise_margin_db:.0f} dB above own noise, "
        f"{r.speaker_noise_db_spl:.0f} dB SPL at the ear"
        for name, r in zip(bands, levels, strict=True)
    )
    return PathTable(
        "Receive: levels for an S9 signal; headroom at S9 + 40 dB",
        "Antenna",
        tuple(float(r.s9_dbm[0]) for r in levels),
        rows,
        summary,
    )


def _folded(r: ReceiveLevels) -> str:
    """What of the noise figure comes in through the mixers' images."""
    parts = [("the image", r.image_noise_db), ("the detector's image", r.detector_image_noise_db)]
    told = [f"{db:.1f} dB of it from {name}" for name, db in parts if db >= 0.05]
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
    for name, t in zip(bands, levels, strict=True):
        harmonics = analysis.harmonics(name)
        worst = max((h.result_dbc for h in harmonics), default=None)
        tail = (
            ""
            if worst is None
            else f", strongest harmonic {worst:.0f} dBc (power amplifier's is an assumption)"
        )
        summary.append(f"{spelled(name)}: {t.output_w:.2g} W PEP{tail}")
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
    return FilterSection(
        title=title,
        drawing=row.design.drawing,
        parts=row.design.parts,
        figures=_figures(found, row.design) if isinstance(found, FilterFigures) else (),
        curve=_curve(row, analysis, row.design),
        reason=found.reason if isinstance(found, Unsolved) else "",
        placement=() if ladder is None else placement(analysis, ladder),
        kinds=tuple(each.kind for each in listed if (each.stage, each.index) == (row.stage, row.index)),
        stress=analysis.part_stress(row.stage, row.index),
        full_power_w=analysis.full_power_w,
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
    columns = [_vfo_column(cover, analysis.vfo_on(cover.band)) for cover in made.ranges]
    rows = tuple((name, tuple(column[n] for column in columns)) for n, name in enumerate(_VFO_FIGURES))
    return VfoSection(
        design=made,
        parts=(*made.parts, *given_parts(made)),
        kinds=kinds,
        bands=bands,
        figures=rows,
        limits=tuple(map(str, made.limits)),
        guidance=vfo.GUIDANCE,
    )


#: What is printed of the VFO on each band, in the order of `_vfo_column`.
_VFO_FIGURES = (
    "wanted, MHz",
    "covered, MHz",
    "tuning, most, kHz a turn",
    "drift at the ends, Hz/K",
    "drift, worst case, Hz/K",
    "start-up over loss",
)


def _vfo_column(cover: RangeCover, of: VfoFigures | Unsolved) -> tuple[str, ...]:
    ranges = (
        f"{cover.wanted_low_hz / 1e6:.4f} to {cover.wanted_high_hz / 1e6:.4f}",
        f"{cover.covers_low_hz / 1e6:.4f} to {cover.covers_high_hz / 1e6:.4f}",
    )
    if isinstance(of, Unsolved):
        return (*ranges, "", "", "", "")
    return (
        *ranges,
        f"{of.dial.worst_hz_per_turn / 1e3:.3g}",
        " and ".join(signed(d.hz_per_k) for d in of.drift),
        f"{max(d.worst_hz_per_k for d in of.drift):.0f}",
        f"{min(of.start):.2g}",
    )


#: What is printed of the read-out on each band, in the order of `_read_out_column`.
_READ_OUT_FIGURES = (
    "scheme",
    "counted, MHz",
    "filter",
    "stored, MHz",
    "shows, MHz",
    "off by up to, Hz",
    "programme",
)


def _read_out(analysis: Analysis) -> ReadOutSection | None:
    """The read-out's section; None for a rig without a counter."""
    plan = analysis.read_out
    if plan is None:
        return None
    columns = [_read_out_column(row) for row in plan.bands]
    rows = tuple((name, tuple(column[n] for column in columns)) for n, name in enumerate(_READ_OUT_FIGURES))
    step = format_value(plan.resolution_hz, "Hz", 3)
    return ReadOutSection(tuple(row.band for row in plan.bands), rows, plan.switching, step)


def _read_out_column(row: BandReadOut) -> tuple[str, ...]:
    if isinstance(row.reading, Unsolved):
        return ("cannot be shown", *("" for _ in _READ_OUT_FIGURES[1:]))
    r = row.reading
    low, high = sorted(r.counted_hz)
    return (
        r.scheme,
        f"{low / 1e6:.5f} to {high / 1e6:.5f}",
        r.filter or "none",
        "nothing" if r.direction == "none" else f"{r.direction} {r.offset_hz / 1e6:.6f}",
        f"{r.shows_hz[0] / 1e6:.5f} to {r.shows_hz[1] / 1e6:.5f}",
        "" if row.error is None else f"{row.error.hz:.0f}",
        "none" if row.programme is None else str(row.programme),
    )


def _figures(figures: FilterFigures, design: Design) -> tuple[tuple[str, str], ...]:
    rows = [
        ("centre", figures.centre_hz, "Hz"),
        ("−3 dB width" if figures.centre_hz else "−3 dB at", figures.bandwidth_3db_hz, "Hz"),
        ("−6 dB width" if figures.centre_hz else "−6 dB at", figures.bandwidth_6db_hz, "Hz"),
        ("−60 dB width" if figures.centre_hz else "−60 dB at", figures.bandwidth_60db_hz, "Hz"),
        ("loss", figures.insertion_loss_db, "dB"),
        ("loss on the band", figures.served_loss_db, "dB"),
        ("return loss on the band", figures.served_return_loss_db, "dB"),
        ("ends", design.end_resistance_ohm if isinstance(design, FilterDesign) else None, "Ω"),
    ]
    return tuple(
        (name, format_value(value, unit, 8 if name == "centre" else 3))
        for name, value, unit in rows
        if value is not None
    )


def _curve(row: CircuitRow, analysis: Analysis, design: Design) -> Curve | None:
    """A filter's response; None for other circuits."""
    if not isinstance(design, FilterDesign):
        return None
    low, high = design.span_hz
    if KINDS[row.kind].role in FRONT:
        dials = analysis.dials(row.bands)
        used = (min(d[0] for d in dials), max(d[1] for d in dials)) if dials else (low, high)
        depth = 60.0
    else:
        used, depth = analysis.if_pass_band_hz, 80.0
    f = np.linspace(low, high, _POINTS)
    return Curve(frozen(f), solve(design.network, f).loss_db, *used, depth)
