"""Where the carrier lies for each band, and the oscillators of parts that make carrier and helper."""

from collections.abc import Mapping
from math import pi

from core.model.bands import Band, Sideband
from core.model.project import Project
from core.model.readout import ReadOut
from core.model.stages.filters import Crystal, LadderFilter
from core.record import record
from core.rig.plan.frequency_plan import sideband_at_if
from core.rig.plan.surroundings import shelf, surroundings
from core.stages.crystal_oscillator.asked import Asked, Place
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign, design, output_dbm
from core.stages.filters import carrier_oscillator, ladder_filter
from core.stages.filters.carrier_oscillator import CarrierPlace
from core.stages.filters.ladder_filter import SolvedLadder
from core.stages.kinds.filters import asked_ladder
from core.stages.kinds.table import kind_of
from core.stages.on_hand import Shelf
from core.stages.ordinary import typical_crystal
from core.stages.outcome import Unsolved

NO_CRYSTAL = Unsolved("The carrier has no crystal; give one to the ladder or to the carrier oscillator.")


@record
class Side:
    """A sideband in use at the IF, its carrier's place, and the bands that use it."""

    sideband: Sideband
    place: CarrierPlace
    bands: tuple[str, ...]


def ladder_of(project: Project) -> LadderFilter | None:
    """The first ladder filter in the path."""
    found = (kind_of(stage).ladder(stage) for stage in project.stages if stage.in_path)
    return next((each for each in found if each is not None), None)


def ladder_solved(project: Project) -> SolvedLadder | Unsolved:
    """That ladder with its circuit and pass-band, or why there is none."""
    ladder = ladder_of(project)
    if ladder is None:
        return Unsolved(
            "There is no ladder filter in the path, so the carrier has no edge to lie at; add one."
        )
    return ladder_filter.solved(asked_ladder(ladder, surroundings(project)))


def placed(project: Project, band: Band, solved: SolvedLadder | Unsolved) -> CarrierPlace | Unsolved:
    """Where the carrier lies for a band, or why it has no place."""
    if isinstance(solved, Unsolved):
        return solved
    carrier = project.carrier
    return carrier_oscillator.place(
        solved, sideband_at_if(band), carrier.edge_suppression_db, carrier.lowest_audio_hz
    )


def sides(project: Project, places: Mapping[str, CarrierPlace | Unsolved]) -> tuple[Side, ...]:
    """A row for each sideband in use at the IF whose carrier has a place; `places` by band."""
    found: dict[Sideband, Side] = {}
    for band in project.bands:
        side, place = sideband_at_if(band), places[band.name]
        if isinstance(place, Unsolved) or side in found:
            continue
        names = tuple(b.name for b in project.bands if sideband_at_if(b) == side)
        found[side] = Side(side, place, names)
    return tuple(found.values())


def carrier_crystal(project: Project) -> Crystal | None:
    """The carrier's crystal: its own, or one like the ladder's."""
    ladder = ladder_of(project)
    return project.carrier.crystal or (None if ladder is None else ladder.crystal)


def carrier_circuit(
    project: Project, of: tuple[Side, ...], level_dbm: float, *, automatic: bool = False
) -> CrystalOscillatorDesign | Unsolved | None:
    """The carrier oscillator of parts for these places and a level [dBm] at its output; None of one that is a
    block. With `automatic` its coil is found whatever was typed.
    """
    asked = _asked(project, of, level_dbm, automatic=automatic)
    return design(asked) if isinstance(asked, Asked) else asked


def _asked(
    project: Project, of: tuple[Side, ...], level_dbm: float, *, automatic: bool = False
) -> Asked | Unsolved | None:
    carrier = project.carrier
    if carrier.circuit is None:
        return None
    crystal = carrier_crystal(project)
    if crystal is None:
        return NO_CRYSTAL
    if not of:
        return Unsolved("The carrier has no place yet, so its oscillator has no frequency to be made for.")
    places = tuple(
        Place(which=side.sideband if len(of) > 1 else None, wanted_hz=side.place.frequency_hz) for side in of
    )
    return Asked(
        circuit=carrier.circuit,
        crystal=crystal,
        fs_hz=project.if_hz + crystal.offset_hz,
        places=places,
        trimmer_f=(carrier.trimmer_low_f, carrier.trimmer_high_f),
        load_f=carrier.load_capacitance_f,
        level_dbm=level_dbm,
        coil_h=None if automatic else carrier.coil_h,
        core="" if automatic else carrier.coil_core,
        shelf=shelf(project.junk_box),
    )


def carrier_level_dbm(project: Project, level_dbm: float) -> float | None:
    """What the carrier oscillator of parts gives where a level [dBm] is asked of it, for somebody who knows
    nothing of the places yet; None of a block, and where it is not known.
    """
    if project.carrier.circuit is None:
        return None
    solved = ladder_solved(project)
    places = {band.name: placed(project, band, solved) for band in project.bands}
    asked = _asked(project, sides(project, places), level_dbm)
    return output_dbm(asked) if isinstance(asked, Asked) else None


def helper_circuit(
    read_out: ReadOut | None, helper_hz: float | None, on_hand: Shelf
) -> CrystalOscillatorDesign | Unsolved | None:
    """The read-out's helper of parts at the frequency that its crystal is marked with [Hz], of what is
    `on_hand` where that does as well; None where there is none, or it is a block.
    """
    if read_out is None or read_out.helper is None or helper_hz is None:
        return None
    helper = read_out.helper
    crystal = helper.crystal or typical_crystal(helper_hz)
    # Marked is where it runs with its load, which lies above its series resonance.
    w = 2 * pi * helper_hz
    motional_f = 1 / (w * w * crystal.motional_inductance_h)
    above = motional_f / (2 * (crystal.holder_capacitance_f + helper.marked_load_f))
    return design(
        Asked(
            circuit=helper.circuit,
            crystal=crystal,
            fs_hz=helper_hz / (1 + above),
            places=(Place(which=None, wanted_hz=helper_hz),),
            trimmer_f=(helper.trimmer_low_f, helper.trimmer_high_f),
            load_f=helper.load_capacitance_f,
            level_dbm=read_out.helper_dbm,
            marked_hz=helper_hz,
            shelf=on_hand,
        )
    )
