"""The build sheet of a rig: what is printed to keep beside the breadboard."""

from hashlib import sha256

from core.model.bands import Band
from core.model.project import Project
from core.model.values.notation import format_value, megahertz
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.paper.needed import needed
from core.rig.paper.parts_list import parts_list
from core.rig.paper.path_table import received, transmitted
from core.rig.paper.receiver import receiver_sections
from core.rig.paper.sheet_model import BuildSheet
from core.rig.paper.stage_sections import (
    circuit_section,
    crystal_oscillators,
    plain_sections,
    read_out_section,
    supply_section,
    vfo_section,
)
from core.rig.paper.supply_tables import supply_tables
from core.rig.rules import inspection
from core.rig.sections.rig import carriers_on
from core.rig.workshop.alignment import alignment
from core.rig.workshop.checks import purity, switched
from core.rig.workshop.crystal_circuits import carrier_circuits
from core.rig.workshop.order_of_work import order_of_work
from core.rig.workshop.test_points import points_of
from core.rig.wound.windings import carrier_windings
from core.stages.steps import Steps, finished

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


def build_sheet(analysis: Analysis) -> BuildSheet:
    """The sheet of a rig."""
    return finished(sheet_in_steps(analysis))


def sheet_in_steps(analysis: Analysis) -> Steps[BuildSheet]:
    """The same in steps: a circuit each, the levels of a band, and those of the findings."""
    project = analysis.project
    bands = tuple(band.name for band in project.bands)
    for stage in project.stages:
        analysis.design(stage.id, bands[0])
        yield
    listed = parts_list(analysis)
    yield
    filters = []
    for row in analysis.circuits:
        filters.append(circuit_section(row, analysis, listed))
        yield
    for band in bands:
        analysis.receive(band)
        analysis.transmit(band)
        yield
    findings = yield from inspection(analysis)
    facts = (
        ("bands", ", ".join(_band_text(band) for band in project.bands)),
        ("IF", format_value(project.if_hz, "Hz", 8)),
        ("power wanted", format_value(project.station.power_w, "W", 3)),
        ("supply", format_value(project.station.supply_v, "V", 3)),
    )
    return BuildSheet(
        name=project.name,
        revision=revision(project),
        notes=project.notes,
        facts=facts,
        bands=bands,
        paths=tuple(
            table for table in (received(analysis, bands), transmitted(analysis, bands)) if table.rows
        ),
        receiver=receiver_sections(analysis),
        plan=analysis.frequency_plan,
        carriers=tuple(carriers_on(analysis)),
        crystals=carrier_circuits(analysis),
        carrier_coils=() if analysis.oscillator("carrier") else carrier_windings(analysis),
        filters=tuple(filters),
        oscillators=crystal_oscillators(analysis, listed),
        plain=plain_sections(analysis),
        order=tuple(stage.id for stage in project.stages),
        vfo=vfo_section(analysis, tuple(each.kind for each in listed if each.stage == "vfo")),
        read_out=read_out_section(analysis),
        points=points_of(analysis),
        work=order_of_work(analysis),
        alignment=alignment(analysis),
        switched=switched(analysis),
        supply=supply_tables(analysis),
        fed=supply_section(analysis, tuple(each.kind for each in listed if each.stage == "supply")),
        purity=purity(analysis),
        needed=needed(analysis, listed),
        photographs=project.photographs,
        findings=findings,
        cautions=CAUTIONS,
    )


#: What of a project makes no other rig: what it is called, and what was written and measured on it.
_NO_DESIGN = {"name", "notes", "log", "photographs", "measured"}


def revision(project: Project) -> str:
    """Eight digits that are others for another design: a digest (SHA-256) of all that a file says of it."""
    text = project.model_dump_json(exclude=_NO_DESIGN)
    digest = sha256(text.encode()).hexdigest().upper()
    return f"{digest[:4]}-{digest[4:8]}"


def _band_text(band: Band) -> str:
    span = megahertz(band.low_hz, band.high_hz)
    return f"{spelled(band.name)} {span} {band.sideband} sideband"
