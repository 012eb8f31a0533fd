"""Everything there is to know of a project, each figure computed when somebody first looks at it.

`Analysis` only gathers: it hands each pure function the smallest frozen part of the project that the
function needs, and those functions are cached on these parts. Two analyses of nearly the same project
therefore share every result that did not change, as the very same object.
"""

from collections.abc import Mapping
from functools import cached_property, lru_cache
from math import inf

import numpy as np

from core.circuits.ladder import joined, solve
from core.model.bands import Band
from core.model.project import Project
from core.model.stages.stage import Way
from core.rig.birdies import ReadOutSources, birdies, counted
from core.rig.circuits import Circuits, front_filters
from core.rig.frequencies import USUAL_BANDWIDTH_HZ
from core.rig.levels import receive
from core.rig.levels.blocks import Block, path_blocks
from core.rig.levels.chain import ends_ohm
from core.rig.levels.dynamic_range import DynamicRange, VfoNoise, dynamic_ranges
from core.rig.levels.ends import Ends, ends
from core.rig.levels.gain_control import controls
from core.rig.levels.harmonics import ORDERS, Harmonic, harmonics
from core.rig.levels.loops import Loop, loops
from core.rig.levels.oscillator_drive import DRIVERS, Drive, Driven, driven, drives
from core.rig.levels.s_meter import SLevel, s_meter
from core.rig.levels.transmit import MicrophoneLevels, TransmitLevels, microphone_levels, transmit
from core.rig.plan.frequency_plan import BandPlan, image_for
from core.rig.plan.front_loss import FrontLoss
from core.rig.read_out.schemes import Reading
from core.rig.spurs.product_levels import Worked
from core.rig.spurs.responses import receive_responses
from core.rig.spurs.spurs import Spur, ranked, transmit_products
from core.stages.filters import ladder_figures
from core.stages.kinds.kind import FILTERS, SPEECH_TONE_HZ, Driver, Sending
from core.stages.kinds.table import kind_of
from core.stages.mixers.figures import MixerFigures
from core.stages.outcome import FilterDesign, Unsolved


@lru_cache(maxsize=64)
def _harmonics(
    amplifier: Sending, band: Band, designs: tuple[FilterDesign, ...], limit_db: float
) -> tuple[Harmonic, ...]:
    response = None
    if designs:
        response = solve(
            joined([design.network for design in designs]),
            np.array([n * end for end in (band.low_hz, band.high_hz) for n in (1, *ORDERS)]),
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


class Analysis(Circuits):
    """Figures of one project; nothing is computed before it is asked for, nothing twice."""

    def __init__(self, project: Project) -> None:
        super().__init__(project)
        self._blocks: dict[tuple[str, Way, float], tuple[Block, ...]] = {}
        self._spurs: dict[tuple[str, Way | None], tuple[Spur, ...]] = {}

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

    @cached_property
    def microphone(self) -> MicrophoneLevels | None:
        """What the microphone gives the transmitter's first stage; None where its level is typed in."""
        band = self.project.bands[0]
        return microphone_levels(self.project.microphone, self.blocks(band.name, "transmit", band.centre_hz))

    def loops(self) -> tuple[Loop, ...]:
        """What amplifies at one frequency, on every band and in both directions."""
        isolation_db = self.project.station.stray_isolation_db
        ways: tuple[Way, ...] = ("receive", "transmit")
        passes_db = {way: self._passes_db(way) for way in ways}
        return tuple(
            each
            for way in ways
            for band in self.project.bands
            for each in loops(
                self.blocks(band.name, way, band.centre_hz), band.name, way, isolation_db, passes_db[way]
            )
        )

    def _passes_db(self, way: Way) -> float:
        """Gain of the mixer between dial and IF for a signal that it does not convert [dB]."""
        figures = self.mixer_figures(way)
        if figures is None:
            return -inf
        return figures.gain_db - float(figures.suppression_db(0, 1, sending=way == "transmit"))

    def harmonics(self, band: str) -> tuple[Harmonic, ...]:
        """Harmonics of the transmitter on a band; empty without a power amplifier in the path.

        Every filter behind the amplifier counts, all of them together as one circuit, and none before it.
        """
        path = self.project.path("transmit")
        at, amplifier = self._power
        if amplifier is None:
            return ()
        behind = front_filters(path[at:][::-1], lambda stage: self._design(stage, band)).chains
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
                self.driven["vfo"].at_mixers,
                self.driven["carrier"].at_mixers,
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
            vfo_dbm=self.driven["vfo"].delivered_dbm,
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

    @cached_property
    def driven(self) -> Mapping[Driver, Driven]:
        """The oscillators with what stands behind them."""
        return {driver: driven(self.project, driver) for driver in DRIVERS}

    @cached_property
    def drives(self) -> tuple[Drive, ...]:
        """What the mixers want of their oscillators and get."""
        return drives(self.project, self.driven)

    def mixer_figures(self, way: Way) -> MixerFigures | None:
        """Figures of the first mixer driven by the VFO in a direction; None when there is none."""
        at = self._vfo_mixer(way)
        stage = None if at is None else self.project.path(way)[at]
        if stage is None:
            return None
        drive = next(each for each in self.drives if each.stage == stage.id)
        return kind_of(stage).mixing(stage, drive.delivered_dbm, drive.second_dbc)

    def _vfo_mixer(self, way: Way) -> int | None:
        """Place in the path of the first mixer driven by the VFO; None when there is none."""
        path = enumerate(self.project.path(way))
        return next((n for n, stage in path if kind_of(stage).driver(stage) == "vfo"), None)
