"""Everything there is to know of a project, each figure computed when somebody first looks at it.

`Analysis` only gathers: it hands each pure function the smallest frozen part of the project that the
function needs, and those functions are cached on these parts. Two analyses of nearly the same project
therefore share every result that did not change, as the very same object.
"""

from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import ArrayLike

from core.circuits.ladder import Array, Response, frozen, joined, solve
from core.model.bands import Band, Sideband
from core.model.project import Project, Stage
from core.model.stages.amplifiers import PowerAmplifier
from core.model.stages.filters import LadderFilter
from core.model.stages.stage import Member, Way
from core.rig import circuits
from core.rig.birdies import ReadOutSources, birdies, counted
from core.rig.levels import receive
from core.rig.levels.blocks import Block, path_blocks, power_amplifier
from core.rig.levels.chain import ends_ohm
from core.rig.levels.dynamic_range import DynamicRange, VfoNoise, dynamic_ranges
from core.rig.levels.ends import Ends, ends
from core.rig.levels.gain_control import controls
from core.rig.levels.harmonics import Harmonic, harmonics
from core.rig.levels.loops import Loop, loops
from core.rig.levels.oscillator_drive import Drive, at_mixers, delivered_dbm, drives
from core.rig.levels.s_meter import SLevel, s_meter
from core.rig.levels.transmit import TransmitLevels, transmit
from core.rig.plan.frequency_plan import BandPlan, band_plan, image_for, sideband_at_if
from core.rig.plan.front_loss import FrontLoss
from core.rig.plan.rejections import Rejection, rejections
from core.rig.plan.surroundings import surroundings
from core.rig.read_out import plan as read_out_plan
from core.rig.read_out.plan import Options, ReadOutPlan
from core.rig.read_out.schemes import Reading
from core.rig.rows import CarrierRow, CircuitRow, FilterRow, RigPart
from core.rig.spurs.product_levels import Worked
from core.rig.spurs.responses import receive_responses
from core.rig.spurs.spurs import Spur, ranked, transmit_products
from core.stages.filters import carrier_oscillator, ladder_figures, ladder_filter
from core.stages.filters.asked_ladder import AskedLadder
from core.stages.filters.carrier_oscillator import CarrierPlace, Pulling
from core.stages.filters.ladder_filter import SolvedLadder
from core.stages.filters.low_pass import PartStress
from core.stages.kinds.filters import asked_ladder
from core.stages.kinds.kind import FILTERS, SPEECH_TONE_HZ, Surroundings
from core.stages.kinds.table import kind_of
from core.stages.mixer import MixerFigures
from core.stages.outcome import Design, FilterDesign, FilterFigures, Unsolved
from core.stages.transistors import choices
from core.stages.vfo import tank_design, vfo
from core.stages.vfo.tank import TankDesign, WantedRange, given_parts
from core.stages.vfo.vfo import VfoFigures
from core.trade.crystals import stock

#: Receive bandwidth [Hz] where no ladder says otherwise; an ordinary SSB filter's.
USUAL_BANDWIDTH_HZ = 2400.0

Dials = tuple[tuple[float, float], ...]


@lru_cache(maxsize=1)
def _stock_hz() -> tuple[float, ...]:
    return tuple(crystal.frequency_hz for crystal in stock())


@lru_cache(maxsize=64)
def _harmonics(
    amplifier: PowerAmplifier, band: Band, designs: tuple[FilterDesign, ...], limit_db: float
) -> tuple[Harmonic, ...]:
    response = None
    if designs:
        response = solve(
            joined([design.network for design in designs]),
            np.array([n * end for end in (band.low_hz, band.high_hz) for n in range(1, 6)]),
        )
    return harmonics(amplifier, band, response, limit_db)


@lru_cache(maxsize=32)
def _sent(plan: BandPlan, figures: MixerFigures, worked: Worked, loss: FrontLoss) -> tuple[Spur, ...]:
    return tuple(transmit_products(plan, figures, worked, loss))


@lru_cache(maxsize=32)
def _received(plan: BandPlan, if_hz: float, figures: MixerFigures, loss: FrontLoss) -> tuple[Spur, ...]:
    return tuple(receive_responses(plan, if_hz, figures, loss))


@lru_cache(maxsize=32)
def _ranked(*families: tuple[Spur, ...]) -> tuple[Spur, ...]:
    return ranked([spur for family in families for spur in family])


#: Paths as blocks that are kept: four bands, two directions, and more frequencies of each than are shown.
_MOST_BLOCKS = 40


class Analysis:
    """Figures of one project; nothing is computed before it is asked for, nothing twice."""

    def __init__(self, project: Project) -> None:
        self.project = project
        self._blocks: dict[tuple[str, Way, float], tuple[Block, ...]] = {}
        self._designs: dict[tuple[str, str], Design | Unsolved] = {}
        self._front: dict[tuple[str, Way], FrontLoss] = {}
        self._spurs: dict[tuple[str, Way | None], tuple[Spur, ...]] = {}

    # -- frequencies ------------------------------------------------------------------------------

    @cached_property
    def ladder(self) -> LadderFilter | None:
        """The first ladder filter in the path."""
        found = (kind_of(stage).ladder(stage) for stage in self.project.stages if stage.in_path)
        return next((each for each in found if each is not None), None)

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
        if self.ladder is None:
            return Unsolved(
                "There is no ladder filter in the path, so the carrier has no edge to lie at; add one."
            )
        return self.solved(self.ladder)

    def carrier(self, band: str) -> CarrierPlace | Unsolved:
        """Where the carrier lies for a band, or why it has no place."""
        if isinstance(self.ladder_solved, Unsolved):
            return self.ladder_solved
        return carrier_oscillator.place(
            self.ladder_solved,
            sideband_at_if(self.project.band(band)),
            self.project.carrier.edge_suppression_db,
            self.project.carrier.lowest_audio_hz,
        )

    @cached_property
    def carriers(self) -> tuple[CarrierRow, ...]:
        """A row for each sideband in use at the IF whose carrier has a place."""
        rows: dict[Sideband, CarrierRow] = {}
        for band in self.project.bands:
            side, place = sideband_at_if(band), self.carrier(band.name)
            if isinstance(place, Unsolved) or side in rows:
                continue
            names = tuple(b.name for b in self.project.bands if sideband_at_if(b) == side)
            rows[side] = CarrierRow(side, names, place, self._pulled(place))
        return tuple(rows.values())

    def solved_pulling(self, band: str) -> Pulling | Unsolved:
        """The carrier's crystal with the coil that suits a band best, whatever coil is typed in."""
        place = self.carrier(band)
        if isinstance(place, Unsolved):
            return place
        return self._pulled(place, automatic=True) or Unsolved(
            "The carrier has no crystal; give one to the ladder or to the carrier oscillator."
        )

    @cached_property
    def drives(self) -> tuple[Drive, ...]:
        """What the mixers want of their oscillators and get."""
        return drives(self.project)

    def _pulled(self, place: CarrierPlace, *, automatic: bool = False) -> Pulling | None:
        carrier = self.project.carrier
        crystal = carrier.crystal or (None if self.ladder is None else self.ladder.crystal)
        if crystal is None:
            return None
        return carrier_oscillator.pull(
            crystal,
            self.project.if_hz + crystal.offset_hz,
            place.frequency_hz,
            (carrier.trimmer_low_f, carrier.trimmer_high_f),
            carrier.load_capacitance_f,
            None if automatic else carrier.coil_h,
        )

    def carrier_hz(self, band: str) -> float:
        """The carrier [Hz] of a band; the nominal IF where it has no place."""
        place = self.carrier(band)
        return self.project.if_hz if isinstance(place, Unsolved) else place.frequency_hz

    def band_plan(self, band: str) -> BandPlan:
        """The frequency plan of one band."""
        return band_plan(self.project.band(band), self.carrier_hz(band))

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

    # -- VFO and read-out ---------------------------------------------------------------------------

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
        return tank_design.design(tank, wanted)

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

    @property
    def _helper_crystals_hz(self) -> tuple[float, ...]:
        read_out = self.project.read_out
        if read_out is not None and read_out.helpers == "junk_box":
            return self.project.junk_box.crystals_hz
        return _stock_hz()

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

    @cached_property
    def transistors(self) -> tuple[tuple[str, str], ...]:
        """What a stage can be built of, each by its name in the model and as it is spelled."""
        return choices(self.project.transistors)

    # -- circuits ---------------------------------------------------------------------------------

    def member_on(self, stage_id: str, band: str) -> Member | Unsolved:
        """What the circuit that a stage has on a band, or switches in on it, is designed from."""
        return circuits.member_on(self.project.stage(stage_id), band)

    def dials(self, bands: tuple[str, ...]) -> Dials:
        """The dial ranges (low, high) [Hz] of those of `bands` that the rig has."""
        return self.surroundings.dials(bands)

    def design(self, stage_id: str, band: str) -> Design | Unsolved:
        """The circuit and parts that a stage has on a band, of whatever kind it is."""
        return self._design(self.project.stage(stage_id), band)

    def _design(self, stage: Stage, band: str) -> Design | Unsolved:
        # The kinds cache what they design, but a key of theirs is a model with all its fields.
        key = (stage.id, band)
        if key not in self._designs:
            self._designs[key] = circuits.design_on(stage, band, self.surroundings)
        return self._designs[key]

    def filter_design(self, stage_id: str, band: str) -> FilterDesign | Unsolved:
        """The circuit and parts of the filter that a stage switches in on a band."""
        stage = self.project.stage(stage_id)
        return circuits.as_filter(self._design(stage, band), stage)

    def filter_figures(self, stage_id: str, band: str) -> FilterFigures | Unsolved:
        """The figures of the filter that a stage switches in on a band."""
        return circuits.figures_on(self.project.stage(stage_id), band, self.surroundings)

    def rejections(self, stage_id: str, band: str, dial_hz: float) -> tuple[Rejection, ...]:
        """What a filter stage keeps out on a band with the dial at `dial_hz` [Hz]; empty without a design."""
        design = self.filter_design(stage_id, band)
        return () if isinstance(design, Unsolved) else rejections(design, self.band_plan(band), dial_hz)

    def filter_response(self, stage_id: str, band: str, f_hz: ArrayLike) -> Response | Unsolved:
        """The exact response of that filter on a grid, shape (F,) [Hz]."""
        design = self.filter_design(stage_id, band)
        return design if isinstance(design, Unsolved) else solve(design.network, f_hz)

    @cached_property
    def circuits(self) -> tuple[CircuitRow, ...]:
        """Every circuit of the rig's stages in the order of the path, those of switched-out stages too."""
        return circuits.circuit_rows(self.project, self.surroundings)

    @cached_property
    def filters(self) -> tuple[FilterRow, ...]:
        """Every filter of the rig in the order of the path, switched-out stages too."""
        return circuits.filter_rows(self.project, self.surroundings)

    @cached_property
    def parts(self) -> tuple[RigPart, ...]:
        """Every part of every circuit that could be designed, and all that is soldered for the VFO."""
        stages = tuple(
            RigPart(row.stage, row.bands, row.index, part, stress.get(part.ref))
            for row in self.circuits
            if not isinstance(row.design, Unsolved)
            for stress in ({each.ref: each for each in self.part_stress(row.stage, row.index)},)
            for part in row.design.parts
        )
        if not isinstance(self.tank, TankDesign):
            return stages
        soldered = (*self.tank.parts, *given_parts(self.tank))
        return (*stages, *(RigPart("vfo", (), None, part) for part in soldered))

    @cached_property
    def full_power_w(self) -> float:
        """The most that the transmitter can send into its low-pass: the power amplifier's largest output."""
        _, amplifier = power_amplifier(self.project.path("transmit"))
        return self.project.station.power_w if amplifier is None else amplifier.rated_w

    def part_stress(self, stage_id: str, index: int | None) -> tuple[PartStress, ...]:
        """What the parts of a circuit behind the power amplifier see at full power; empty for others."""
        stage = self.project.stage(stage_id)
        return circuits.stress_in(stage, index, self.surroundings, self.full_power_w)

    def filter_stress(self, stage_id: str, band: str) -> tuple[PartStress, ...]:
        """What the parts of the circuit that a stage switches in on a band see at full power."""
        found = self.member_on(stage_id, band)
        return () if isinstance(found, Unsolved) else self.part_stress(stage_id, found.place)

    def front_losses(self, band: str, way: Way, f_hz: Array) -> Array:
        """Loss of the path's band-pass and low-pass filters together at `f_hz`, shape (F,) [Hz], in dB."""
        return frozen(self.front_loss(band, way)(f_hz))

    def front_loss(self, band: str, way: Way) -> FrontLoss:
        """The band-pass and low-pass filters that a signal passes on a band, those that can be designed;
        next to each other they are one circuit.
        """
        if (band, way) not in self._front:
            # From the antenna on in both directions: filters lose the same either way, and joined backwards
            # they would be another circuit.
            path = self.project.path(way)[:: 1 if way == "receive" else -1]
            self._front[band, way] = circuits.front_filters(path, lambda stage: self._design(stage, band))
        return self._front[band, way]

    # -- levels -----------------------------------------------------------------------------------

    def noise_bandwidth_hz(self, band: str, dial_hz: float | None = None) -> float:
        """Noise bandwidth in receive [Hz], the dial [Hz] as for `receive`: the ladder's between what stands
        beside it, integrated; the usual one where there is none.

        It is referred to the ladder's gain for the speech tone, as all levels are: white noise leaves the
        ladder as out of a rectangle of this width that passes everything as it passes that tone.
        """
        solved, place = self.ladder_solved, self.carrier(band)
        if isinstance(solved, Unsolved) or isinstance(place, Unsolved):
            return USUAL_BANDWIDTH_HZ
        dial = self.project.band(band).centre_hz if dial_hz is None else dial_hz
        blocks = self.blocks(band, "receive", dial)
        at = next((n for n, each in enumerate(blocks) if each.stage == solved.asked.ladder.id), None)
        beside = None if at is None else ends_ohm(blocks, at)
        found = ladder_figures.noise_bandwidth(solved, place.signal_hz(SPEECH_TONE_HZ), beside)
        return USUAL_BANDWIDTH_HZ if isinstance(found, Unsolved) else found

    def blocks(self, band: str, way: Way, dial_hz: float) -> tuple[Block, ...]:
        """The path reduced to block figures at a dial frequency [Hz]."""
        key = (band, way, dial_hz)
        if key not in self._blocks:
            place, plan = self.carrier(band), self.band_plan(band)
            self._blocks[key] = path_blocks(
                self.project.path(way),
                way,
                [self._design(stage, band) for stage in self.project.path(way)],
                dial_hz=dial_hz,
                dial_image_hz=image_for(plan.scheme, plan.carrier_hz, plan.vfo_at(dial_hz)),
                speech_hz=None if isinstance(place, Unsolved) else place.signal_hz(SPEECH_TONE_HZ),
                speech_image_hz=None if isinstance(place, Unsolved) else place.signal_hz(-SPEECH_TONE_HZ),
                side=-1 if plan.sideband_inverted else 1,
                drives_dbm={each.stage: each.delivered_dbm for each in self.drives},
            )
            # A dial is turned through thousands of frequencies of one design.
            if len(self._blocks) > _MOST_BLOCKS:
                del self._blocks[next(iter(self._blocks))]
        return self._blocks[key]

    def ends(self, stage_id: str, band: str, way: Way) -> Ends | Unsolved:
        """What a stage sees beside it around the nearest filter's pass-band, and what is seen through it."""
        stages, dial_hz = self.project.path(way), self.project.band(band).centre_hz
        place = next((n for n, stage in enumerate(stages) if stage.id == stage_id), None)
        if place is None:
            return Unsolved(f"{self.project.stage(stage_id).name} is not in the path in {way}.")
        designs = [self._design(stage, band) for stage in stages]
        return ends(stages, way, designs, self.blocks(band, way, dial_hz), place)

    def receive(self, band: str, dial_hz: float | None = None) -> receive.ReceiveLevels:
        """Receive levels on a band, in its middle unless a dial frequency [Hz] is given."""
        dial = self.project.band(band).centre_hz if dial_hz is None else dial_hz
        return receive.receive(
            self.blocks(band, "receive", dial),
            band,
            dial,
            self.noise_bandwidth_hz(band, dial),
            self.project.station,
            self.project.speaker,
            controls(self.project.path("receive")),
        )

    def s_meter(self, band: str, dial_hz: float | None = None) -> tuple[SLevel, ...]:
        """A station's levels on a band from S1 to S9 + 60 dB, with the dial [Hz] as for `receive`."""
        return s_meter(self.receive(band, dial_hz))

    def dynamic_ranges(self, band: str, dial_hz: float | None = None) -> tuple[DynamicRange, ...]:
        """What the receiver bears from stations beside the signal, with the dial [Hz] as for `receive`."""
        vfo = self.project.vfo
        noise = None if vfo.noise_dbc_hz is None else VfoNoise(vfo.noise_dbc_hz, vfo.noise_offset_hz)
        return dynamic_ranges(self.receive(band, dial_hz), noise)

    def transmit(self, band: str, dial_hz: float | None = None) -> TransmitLevels:
        """Transmit levels on a band, in its middle unless a dial frequency [Hz] is given."""
        dial = self.project.band(band).centre_hz if dial_hz is None else dial_hz
        blocks = self.blocks(band, "transmit", dial)
        return transmit(blocks, band, dial, self.project.microphone, self.project.station.power_w)

    def loops(self) -> tuple[Loop, ...]:
        """What amplifies at one frequency, on every band and in both directions."""
        isolation_db = self.project.station.stray_isolation_db
        return tuple(
            each
            for way in ("receive", "transmit")
            for band in self.project.bands
            for each in loops(self.blocks(band.name, way, band.centre_hz), band.name, way, isolation_db)
        )

    def harmonics(self, band: str) -> tuple[Harmonic, ...]:
        """Harmonics of the transmitter on a band; empty without a power amplifier in the path.

        Every filter behind the amplifier counts, all of them together as one circuit, and none before it.
        """
        path = self.project.path("transmit")
        at, amplifier = power_amplifier(path)
        if amplifier is None:
            return ()
        behind = circuits.front_filters(path[at:][::-1], lambda stage: self._design(stage, band)).chains
        designs = tuple(design for chain in behind for design in chain)[::-1]
        return _harmonics(amplifier, self.project.band(band), designs, self.project.station.harmonic_limit_db)

    def spurs(self, band: str, way: Way | None = None) -> tuple[Spur, ...]:
        """Receive responses and birdies, and transmit products, of a band, or those of one direction; those
        that cross the dial first.
        """
        if (band, way) not in self._spurs:
            plan, families = self.band_plan(band), list[tuple[Spur, ...]]()
            # Without a VFO frequency there are no products; a finding speaks of it.
            if plan.vfo_low_hz > 0:
                families += () if way == "transmit" else self._heard(plan)
                families += () if way == "receive" else (self._transmitted(plan),)
            self._spurs[band, way] = _ranked(*families)
        return self._spurs[band, way]

    def _heard(self, plan: BandPlan) -> tuple[tuple[Spur, ...], ...]:
        """Receive responses and birdies of a band."""
        figures = self.mixer_figures("receive")
        if figures is None:
            return ()
        loss = self.front_loss(plan.band, "receive")
        return (
            _received(plan, sum(self.if_pass_band_hz) / 2, figures, loss),
            birdies(
                plan,
                figures,
                at_mixers(self.project, "vfo"),
                at_mixers(self.project, "carrier"),
                self._read_out_sources(plan.band),
                self.if_pass_band_hz,
                loss,
                self._gain_ahead_db(plan.band),
            ),
        )

    def _transmitted(self, plan: BandPlan) -> tuple[Spur, ...]:
        """Transmit products of a band."""
        figures = self.mixer_figures("transmit")
        if figures is None:
            return ()
        return _sent(plan, figures, self.worked(plan.band, figures), self.front_loss(plan.band, "transmit"))

    def worked(self, band: str, figures: MixerFigures) -> Worked:
        """How the transmit mixer, which has these figures, is worked on a band at speech peaks."""
        levels_dbm, at = self.transmit(band).level_dbm, self._vfo_mixer("transmit")
        assert at is not None  # its figures are known
        return Worked(
            vfo_dbm=delivered_dbm(self.project, "vfo"),
            wanted_dbm=float(levels_dbm[at + 1]),
            backoff_db=figures.p1db_in_dbm - float(levels_dbm[at]),
        )

    def _gain_ahead_db(self, band: str) -> float:
        """Gain of all that is no filter ahead of the receive mixer, dB; filters count by frequency."""
        blocks = self.blocks(band, "receive", self.project.band(band).centre_hz)
        ahead = blocks[: self._vfo_mixer("receive")]
        return sum(each.gain_db for each in ahead if each.role not in FILTERS)

    def _read_out_sources(self, band: str) -> ReadOutSources | None:
        """What the read-out oscillates at; the helper counts only on the bands where it is on."""
        read_out = self.project.read_out
        if read_out is None:
            return None
        row = None if self.read_out is None else self.read_out.of(band)
        reading = row.reading if row is not None and isinstance(row.reading, Reading) else None
        return ReadOutSources(
            helper_hz=None if reading is None else reading.helper_hz,
            helper_dbm=read_out.helper_dbm,
            clock_hz=read_out.counter.clock_hz,
            counted=() if reading is None else counted(reading),
        )

    # -- mixers -----------------------------------------------------------------------------------

    def mixer_figures(self, way: Way) -> MixerFigures | None:
        """Figures of the first mixer driven by the VFO in a direction; None when there is none."""
        at = self._vfo_mixer(way)
        stage = None if at is None else self.project.path(way)[at]
        driven = {each.stage: each.delivered_dbm for each in self.drives}
        return None if stage is None else kind_of(stage).mixing(stage, driven.get(stage.id))

    def _vfo_mixer(self, way: Way) -> int | None:
        """Place in the path of the first mixer driven by the VFO; None when there is none."""
        path = enumerate(self.project.path(way))
        return next((n for n, stage in path if kind_of(stage).driver(stage) == "vfo"), None)
