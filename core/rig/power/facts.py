"""What there is to tell of a power amplifier of parts, asked of an analysis."""

from functools import cached_property, lru_cache
from math import pi, sqrt

import numpy as np

from core.circuits.ladder import Array, frozen
from core.model.stages.stage import StageBase
from core.record import record
from core.rig.analysis import Analysis
from core.rig.power.exposure import Exposure, exposure
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved
from core.stages.power_amplifier.design import PowerDesign
from core.stages.power_amplifier.gain import OverFrequency, at, over
from core.stages.power_amplifier.working import OverTime, Working, output, over_time, working

#: What is left to a junction below the highest temperature it bears, K, and the hottest sink that a hand
#: touches by accident without harm at once, °C; common practice, no source.
SPARE_K, TOUCHED_C = 25.0, 70.0


@record(kw_only=True, slots=False, eq=False)
class OnBand:
    """A power amplifier in the middle of a band: what it does there, and what its driver gives it at speech
    peaks [dBm].
    """

    band: str
    there: OverFrequency
    has_dbm: float

    @property
    def gain_db(self) -> float:
        """Power gain, dB."""
        return float(self.there.gain_db[0])

    @property
    def most_w(self) -> float:
        """Largest output, W."""
        return float(self.there.most_w[0])

    @property
    def drive_w(self) -> float:
        """What the power wanted takes at the input, W."""
        return float(self.there.drive_w[0])


@record(kw_only=True, slots=False, eq=False)
class PowerFacts:
    """A power amplifier's design, what it goes through, and what it does on each band; `name` is the stage's.
    `stage` is its key.
    """

    stage: str
    name: str
    design: PowerDesign
    working: Working
    bands: tuple[OnBand, ...]
    exposures: tuple[Exposure, ...]

    @property
    def most_junction_c(self) -> float:
        """What the junctions should stay below, °C."""
        return self.design.bears.most_junction_c - SPARE_K

    @cached_property
    def junction_c(self) -> float:
        """Junctions after two tones, or a carrier if that heats more, without a pause, °C."""
        return float(self.working.chain.junction_c(self.working.hottest_w))

    @cached_property
    def sink_c(self) -> float:
        """The sink then, °C."""
        return float(self.working.chain.sink_c(self.working.hottest_w))

    @cached_property
    def mismatch_c(self) -> float:
        """Junctions in the worst phase of a mismatch, without a pause, °C."""
        return float(self.working.chain.junction_c(self.working.mismatch_w))

    @cached_property
    def sink_wanted_k_w(self) -> float:
        """The sink that keeps junctions cool enough with two tones without a pause, K/W; below zero where
        none can.
        """
        return self.working.chain.sink_wanted_k_w(self.working.hottest_w, self.most_junction_c)

    @property
    def peak_a(self) -> float:
        """The largest current of one transistor, matched or not, A."""
        most = max(self.working.output.peak_a, float(self.working.mismatched.peak_a.max()))
        return most / self.design.law.count


def power_facts(analysis: Analysis, stage: StageBase) -> PowerFacts | Unsolved:
    """The facts of a power amplifier; the reason where it cannot be made."""
    first = analysis.project.bands[0].name
    made = analysis.design(stage.id, first)
    if isinstance(made, Unsolved):
        return made
    if not isinstance(made, PowerDesign):
        return Unsolved(f"{stage.name} is no power amplifier of parts.")
    found = working(made)
    if isinstance(found, Unsolved):
        return found
    bands, exposures = [], []
    path = [each.id for each in analysis.project.path("transmit")]
    for band in analysis.project.bands:
        there = at(made, band.centre_hz)
        if isinstance(there, Unsolved):
            return there
        levels = analysis.transmit(band.name)
        has = float(levels.level_dbm[path.index(stage.id)]) if stage.id in path else float("-inf")
        bands.append(OnBand(band=band.name, there=there, has_dbm=has))
        told = exposure(band.name, band.high_hz, min(levels.output_w, made.most_w))
        exposures += [] if told is None else [told]
    return PowerFacts(
        stage=stage.id,
        name=stage.name,
        design=made,
        working=found,
        bands=tuple(bands),
        exposures=tuple(exposures),
    )


def power_amplifiers_of(analysis: Analysis) -> list[PowerFacts]:
    """The facts of every power amplifier of parts that can be made."""
    stages = (stage for stage in analysis.project.stages if kind_of(stage).role == "power_amplifier")
    found = (power_facts(analysis, stage) for stage in stages if kind_of(stage).making is not None)
    return [each for each in found if isinstance(each, PowerFacts)]


@record(kw_only=True)
class Driven:
    """A stage between the transmit mixer and the antenna at speech peaks: what it gets, and what the power
    wanted takes at its input and at its output [dBm], None where it, or a stage behind it, cannot give so
    much; its gain [dB], and how far its input stays below compression [dB].
    """

    band: str
    stage: str
    name: str
    has_dbm: float
    needs_dbm: float | None
    should_give_dbm: float | None
    gain_db: float
    headroom_db: float | None


def drivers(analysis: Analysis, band: str) -> tuple[Driven, ...]:
    """The chain from the transmit mixer's output to the antenna on a band; from the microphone on where no
    mixer is driven by the VFO.
    """
    path, levels = analysis.project.path("transmit"), analysis.transmit(band)
    mixer = next((n for n, stage in enumerate(path) if kind_of(stage).driver(stage) == "vfo"), -1)
    return tuple(
        Driven(
            band=band,
            stage=block.stage,
            name=block.name,
            has_dbm=float(levels.level_dbm[n]),
            needs_dbm=levels.wanted_dbm[n],
            should_give_dbm=levels.wanted_dbm[n + 1],
            gain_db=block.gain_db,
            headroom_db=levels.headroom_db[n],
        )
        for n, block in enumerate(levels.blocks)
        if n > mixer
    )


@record(kw_only=True, eq=False)
class LoadLine:
    """Current [A] over voltage [V] at one side's drain or collector at full power: the path of a carrier, and
    what the device passes at its largest drive, knee included.
    """

    path_v: Array
    path_a: Array
    device_v: Array
    device_a: Array


@lru_cache(maxsize=16)
def load_line(design: PowerDesign) -> LoadLine | Unsolved:
    """A power amplifier on its load line."""
    found, law, supply = output(design), design.law, design.stage.supply_v
    if isinstance(found, Unsolved):
        return found
    phase = np.linspace(0.0, pi, 97)
    swing = sqrt(2 * design.full_w / design.stage.sides * design.load_ohm)
    across = np.linspace(0.0, supply + swing, 97)
    return LoadLine(
        path_v=frozen(supply - swing * np.cos(phase)),
        path_a=frozen(law.current_a(design.bias_v + found.drive_v * np.cos(phase))),
        device_v=frozen(across),
        device_a=frozen(np.maximum(law.between_a(design.bias_v + found.drive_v, across), 0.0)),
    )


#: Over which range a power amplifier is looked at, Hz; a choice.
LOOKED_AT_HZ = (1e6, 60e6)
_GRID_HZ = tuple(np.geomspace(*LOOKED_AT_HZ, 81).tolist())


def over_frequency(facts: PowerFacts) -> OverFrequency | Unsolved:
    """A power amplifier over the whole of what is looked at."""
    return over(facts.design, _GRID_HZ)


def warming(facts: PowerFacts) -> OverTime:
    """Temperatures over time of transmitting without a pause: two tones, or a carrier if that heats more."""
    return over_time(facts.working.chain, facts.working.hottest_w)
