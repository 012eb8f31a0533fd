"""Frequencies of a project: ladder, carrier, plan, VFO and read-out, each computed when first looked at."""

from functools import cached_property, lru_cache

from core.model.project import Project
from core.model.readout import ReadOut
from core.model.stages.filters import LadderFilter
from core.rig.levels.oscillator_drive import asked_dbm
from core.rig.plan import carriers
from core.rig.plan.carriers import Side
from core.rig.plan.frequency_plan import BandPlan, band_plan, sideband_at_if
from core.rig.plan.surroundings import shelf, surroundings
from core.rig.read_out import plan as read_out_plan
from core.rig.read_out.plan import Options, ReadOutPlan
from core.rig.rows import OSCILLATORS, CarrierRow, OscillatorRow
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.filters import carrier_oscillator, ladder_filter
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.filters.carrier_oscillator import CarrierPlace, Pulling
from core.stages.filters.ladder_filter import SolvedLadder
from core.stages.kinds.filters import asked_ladder
from core.stages.kinds.kind import Surroundings
from core.stages.outcome import Unsolved
from core.stages.vfo import tank_design, vfo
from core.stages.vfo.tank import TankDesign, WantedRange
from core.stages.vfo.vfo import VfoFigures
from core.trade.crystals import stock

#: Receive bandwidth [Hz] where no ladder says otherwise; an ordinary SSB filter's.
USUAL_BANDWIDTH_HZ = 2400.0


@lru_cache(maxsize=1)
def _stock_hz() -> tuple[float, ...]:
    return tuple(crystal.frequency_hz for crystal in stock())


class Frequencies:
    """What follows from the bands, the IF, the first ladder and both oscillators."""

    def __init__(self, project: Project) -> None:
        self.project = project
        # The functions below are cached too, but some thirty questions an edit would build their keys anew.
        self._carriers: dict[str, CarrierPlace | Unsolved] = {}
        self._plans: dict[str, BandPlan] = {}

    @cached_property
    def ladder(self) -> LadderFilter | None:
        """The first ladder filter in the path."""
        return carriers.ladder_of(self.project)

    @cached_property
    def surroundings(self) -> Surroundings:
        """What the stages are designed for."""
        return surroundings(self.project)

    def asked(self, ladder: LadderFilter) -> AskedLadder:
        """A ladder at the rig's IF, made of its junk box where that is asked."""
        return asked_ladder(ladder, self.surroundings)

    def solved(self, ladder: LadderFilter) -> SolvedLadder | Unsolved:
        """A ladder with its circuit and pass-band at the rig's IF, or the reason why it has none."""
        return ladder_filter.solved(self.asked(ladder))

    @cached_property
    def ladder_solved(self) -> SolvedLadder | Unsolved:
        """The first ladder filter in the path with its circuit and pass-band, or why there is none."""
        return carriers.ladder_solved(self.project)

    def carrier(self, band: str) -> CarrierPlace | Unsolved:
        """Where the carrier lies for a band, or why it has no place."""
        if band not in self._carriers:
            self._carriers[band] = carriers.placed(self.project, self.project.band(band), self.ladder_solved)
        return self._carriers[band]

    @cached_property
    def _sides(self) -> tuple[Side, ...]:
        places = {band.name: self.carrier(band.name) for band in self.project.bands}
        return carriers.sides(self.project, places)

    @cached_property
    def carrier_circuit(self) -> CrystalOscillatorDesign | Unsolved | None:
        """The carrier oscillator on its resulting parts; None when it is a block without any."""
        level = asked_dbm(self.project, "carrier")
        return carriers.carrier_circuit(self.project, self._sides, level)

    @cached_property
    def helper_circuit(self) -> CrystalOscillatorDesign | Unsolved | None:
        """The read-out's helper on its resulting parts; None where none is needed, or it is a block."""
        helper_hz = None if self.read_out is None else self.read_out.helper_hz
        return carriers.helper_circuit(self.project.read_out, helper_hz, shelf(self.project.junk_box))

    def oscillator(self, key: str) -> OscillatorRow | None:
        """The crystal oscillator of parts with this key, unless a stage has it; None where there is none."""
        if any(stage.id == key for stage in self.project.stages):
            return None
        return next((row for row in self.oscillators if row.stage == key), None)

    @cached_property
    def oscillators(self) -> tuple[OscillatorRow, ...]:
        """The crystal oscillators that are made of parts, as circuits."""
        made = (("carrier", self.carrier_circuit), ("helper", self.helper_circuit))
        bands = tuple(band.name for band in self.project.bands)
        return tuple(
            OscillatorRow(stage=key, name=OSCILLATORS[key], kind=key, index=None, bands=bands, design=design)
            for key, design in made
            if design is not None
        )

    @cached_property
    def carriers(self) -> tuple[CarrierRow, ...]:
        """A row for each sideband in use at the IF whose carrier has a place."""
        made = self.carrier_circuit
        if isinstance(made, CrystalOscillatorDesign):
            pairs = zip(self._sides, made.pullings, strict=True)
            return tuple(CarrierRow(side.sideband, side.bands, side.place, found) for side, found in pairs)
        return tuple(
            CarrierRow(side.sideband, side.bands, side.place, self._pulled(side.place))
            for side in self._sides
        )

    def solved_pulling(self, band: str) -> Pulling | Unsolved:
        """The carrier's crystal with the coil that suits a band best, whatever coil is typed in."""
        place = self.carrier(band)
        if isinstance(place, Unsolved):
            return place
        made = carriers.carrier_circuit(
            self.project, self._sides, asked_dbm(self.project, "carrier"), automatic=True
        )
        if isinstance(made, CrystalOscillatorDesign):
            pairs = zip(self._sides, made.pullings, strict=True)
            return next(found for side, found in pairs if band in side.bands)
        return self._pulled(place, automatic=True) or carriers.NO_CRYSTAL

    def _pulled(self, place: CarrierPlace, *, automatic: bool = False) -> Pulling | None:
        carrier, crystal = self.project.carrier, carriers.carrier_crystal(self.project)
        if crystal is None:
            return None
        return carrier_oscillator.pull(
            crystal,
            self.project.if_hz + crystal.offset_hz,
            place.frequency_hz,
            (carrier.trimmer_low_f, carrier.trimmer_high_f),
            carrier.load_capacitance_f,
            None if automatic else carrier.coil_h,
            "" if automatic else carrier.coil_core,
        )

    def carrier_hz(self, band: str) -> float:
        """The carrier [Hz] of a band; the nominal IF where it has no place."""
        place = self.carrier(band)
        return self.project.if_hz if isinstance(place, Unsolved) else place.frequency_hz

    def band_plan(self, band: str) -> BandPlan:
        """The frequency plan of one band."""
        if band not in self._plans:
            self._plans[band] = band_plan(self.project.band(band), self.carrier_hz(band))
        return self._plans[band]

    @cached_property
    def frequency_plan(self) -> tuple[BandPlan, ...]:
        """A plan a band."""
        return tuple(self.band_plan(band.name) for band in self.project.bands)

    @cached_property
    def if_pass_band_hz(self) -> tuple[float, float]:
        """The ladder's −6 dB edges [Hz]; half the usual bandwidth around the IF where there is no ladder."""
        usual = (self.project.if_hz - USUAL_BANDWIDTH_HZ / 2, self.project.if_hz + USUAL_BANDWIDTH_HZ / 2)
        if isinstance(self.ladder_solved, Unsolved):
            return usual
        low, high = self.ladder_solved.band.edges_hz[6.0]
        return (usual[0] if low is None else low, usual[1] if high is None else high)

    @cached_property
    def tank(self) -> TankDesign | Unsolved | None:
        """The VFO's tank on its resulting parts; None when the VFO is a block without one."""
        tank = self.project.vfo.tank
        if tank is None:
            return None
        wanted = tuple(
            WantedRange(plan.band, plan.vfo_low_hz, plan.vfo_high_hz, band.vfo_shift)
            for plan, band in zip(self.frequency_plan, self.project.bands, strict=True)
        )
        return tank_design.design(tank, wanted, shelf(self.project.junk_box))

    def vfo_on(self, band: str) -> VfoFigures | Unsolved:
        """What the VFO does on a band, or why nothing is known of it."""
        if self.tank is None:
            return Unsolved("The VFO is a block without a tank, so nothing is known of its dial and drift.")
        return self.tank if isinstance(self.tank, Unsolved) else vfo.figures(self.tank, band)

    @cached_property
    def _measured_plans(self) -> tuple[BandPlan, ...]:
        """The frequency plan with the carriers as measured, where they were."""
        read_out = self.project.read_out
        assert read_out is not None  # read_out and its options ask first
        measured = {"upper": read_out.carrier_upper_hz, "lower": read_out.carrier_lower_hz}
        return tuple(
            band_plan(band, measured[sideband_at_if(band)] or self.carrier_hz(band.name))
            for band in self.project.bands
        )

    @cached_property
    def _helper_crystals_hz(self) -> tuple[float, ...]:
        """The crystals that the helper may be: of the junk box where that is asked, or comes first and shows
        as many bands as the stock does.
        """
        box, read_out = self.project.junk_box, self.project.read_out
        mine = box.every_crystal_hz
        if read_out is None or read_out.helpers == "junk_box":
            return mine
        if box.first and mine and self._shown_with(read_out, mine) >= self._shown_with(read_out, _stock_hz()):
            return mine
        return _stock_hz()

    def _shown_with(self, read_out: ReadOut, crystals_hz: tuple[float, ...]) -> int:
        """How many bands the counter shows with a helper of one of these crystals [Hz], or none."""
        made = read_out_plan.plan(self._measured_plans, read_out, self.if_pass_band_hz, crystals_hz)
        return sum(not isinstance(each.reading, Unsolved) for each in made.bands)

    @cached_property
    def read_out(self) -> ReadOutPlan | None:
        """How the counter shows every band; None without a counter."""
        if self.project.read_out is None:
            return None
        return read_out_plan.plan(
            self._measured_plans, self.project.read_out, self.if_pass_band_hz, self._helper_crystals_hz
        )

    @cached_property
    def read_out_options(self) -> tuple[Options, ...]:
        """The other read-out schemes of every band, and those turned down with their reasons."""
        if self.project.read_out is None:
            return ()
        return read_out_plan.options(
            self._measured_plans, self.project.read_out, self.if_pass_band_hz, self._helper_crystals_hz
        )
