"""A complete rig with sensible default stages for some bands and an IF, and a survey row put into a rig."""

from collections.abc import Sequence

from core.model.bands import Band, Scheme
from core.model.project import Project, Stage
from core.model.readout import Counter, ReadOut
from core.model.stages.amplifiers import Amplifier
from core.model.stages.audio import AudioPower, BuiltAudio, Microphone
from core.model.stages.gain_control import GainControl
from core.model.stages.mixers import Mixer
from core.model.stages.oscillators import CrystalCircuit, HelperOscillator
from core.model.stages.stage import Way
from core.model.stages.tank import Tank
from core.model.values.errors import DesignError
from core.model.values.notation import significant
from core.rig.start.amplifiers import (
    AT_IF,
    AT_RF,
    DRIVER,
    PRE_DRIVER,
    built,
    power_amplifier,
)
from core.rig.start.first_edits import spared, with_headroom, with_slow_dial
from core.rig.supply.usual import with_supply
from core.rig.survey.if_survey import survey
from core.rig.survey.terms import ranges
from core.stages.kinds.filters import BAND_PASS, LADDER, LOW_PASS
from core.stages.kinds.mixing import MIXER
from core.stages.kinds.table import KINDS, kind_of
from core.stages.ordinary import of_circuit
from core.stages.outcome import Unsolved
from core.stages.vfo import start_up, tank_design
from core.stages.vfo.tank import TankDesign, WantedRange

#: An RF stage is put in the receive path when a band lies above this; below it band noise is loud enough
#: for a passive mixer (common practice, no source; the level diagram shows it).
RF_STAGE_ABOVE_HZ = 20e6

#: Amplifiers of a new rig as blocks, which are built where a circuit comes to their gain; the transmit IF is
#: the one by which the drive is set. Key, name, direction, gain, noise figure [dB], output intercept,
#: compression [dBm].
_AMPLIFIERS: tuple[tuple[str, str, Way, float, float, float, float], ...] = (
    ("driver", "Driver", "transmit", 16, 6, 38, 27),
    ("pre_driver", "Pre-driver", "transmit", 17, 5, 30, 17),
    ("rf_stage", "RF stage", "receive", 10, 3, 25, 14),
    ("if_amplifier_1", "IF amplifier 1", "receive", 16, 4, 30, 17),
    ("transmit_if", "Transmit IF", "transmit", 6, 4, 25, 12),
    ("if_amplifier_2", "IF amplifier 2", "receive", 20, 6, 25, 12),
    ("modulator_buffer", "Modulator buffer", "transmit", 12, 4, 25, 12),
)
_BLOCKS = {
    id: Amplifier(
        id=id, name=name, direction=way, gain_db=gain, noise_figure_db=noise, oip3_dbm=ip3, p1db_dbm=p1db
    )
    for id, name, way, gain, noise, ip3, p1db in _AMPLIFIERS
}

#: Audio in receive, of an operational amplifier and a chip, and from the microphone to the modulator.
_AUDIO = (
    BuiltAudio(
        id="preamplifier",
        name="Preamplifier",
        direction="receive",
        topology="operational",
        gain_db=14,
        source_ohm=50,
    ),
    GainControl(id="gain_control", name="Volume", direction="receive", track_ohm=10e3),
    AudioPower(id="audio", name="Audio power stage", direction="receive", gain_db=40),
    BuiltAudio(
        id="microphone_amplifier",
        name="Mic amplifier",
        direction="transmit",
        gain_db=24,
        load_ohm=50,
        second_a=10e-3,
        feed_ohm=100,
    ),
)

#: Crystals that counter modules are clocked with, Hz, the most usual first; from memory.
_USUAL_CLOCKS_HZ = (4e6, 8e6, 10e6, 16e6, 20e6, 12.8e6, 12e6)

#: Times the drive is corrected towards the power wanted; each takes away most of what is missing.
_DRIVE_STEPS = 4


def new_rig(bands: Sequence[Band], if_hz: float, name: str = "New rig") -> Project:
    """A rig for `bands` at an IF of `if_hz` [Hz], whose transmit gain is set for the default power.

    `DesignError` with one sentence where bands and IF make none.
    """
    rig = Project.checked(
        name=name,
        if_hz=if_hz,
        bands=tuple(bands),
        microphone=Microphone(type="dynamic"),
        read_out=ReadOut(counter=Counter(programmes=max(2, len(bands)))),
    ).with_stages(_stages(bands, if_hz))
    tuned = _with_quiet_clock(with_slow_dial(with_tank(_with_drive_set(spared(rig)))))
    return with_headroom(with_supply(_with_crystal_oscillators(tuned)))


def _with_crystal_oscillators(rig: Project) -> Project:
    """The rig with carrier and helper of parts, each where it starts; a helper where one is needed."""
    from core.rig.analysis import Analysis

    for path, made in (
        (("carrier", "circuit"), CrystalCircuit()),
        (("read_out", "helper"), HelperOscillator()),
    ):
        tried = rig.edited(path, made)
        designs = [row.design for row in Analysis(tried).oscillators if row.path[: len(path)] == path]
        if designs and not isinstance(designs[0], Unsolved) and designs[0].level_dbm is not None:
            rig = tried
    return rig


def _with_quiet_clock(rig: Project) -> Project:
    """The rig with the usual clock of its counter that is least heard: on a dial, an image or in the IF."""
    from core.rig.analysis import Analysis

    def heard(clocked: Project) -> int:
        spurs = (spur for band in rig.bands for spur in Analysis(clocked).spurs(band.name))
        # Those of the clock alone, and of the helper alone, which every clock leaves as they are.
        return sum(s.read_out and s.crosses and s.m == s.n == 0 for s in spurs)

    clocks = (rig.edited(("read_out", "counter", "clock_hz"), clock) for clock in _USUAL_CLOCKS_HZ)
    return min(clocks, key=heard)


def with_tank(rig: Project, tank: Tank | None = None) -> Project:
    """The rig with `tank`, or that with other ordinary parts, for its VFO's ranges.

    It stays as it is where the VFO would pass zero. Bands outside the highest of the ranges that the survey
    counts get a band-shift capacitor across the tuning.
    """
    from core.rig.analysis import Analysis

    plans = Analysis(rig).frequency_plan
    if min(plan.vfo_low_hz for plan in plans) <= 0:
        return rig
    top, _ = ranges([(plan.vfo_low_hz, plan.vfo_high_hz) for plan in plans])[-1]
    bands = tuple(
        band.edited(("vfo_shift",), "none" if plan.vfo_low_hz >= top else "parallel")
        for band, plan in zip(rig.bands, plans, strict=True)
    )
    wanted = tuple(
        WantedRange(plan.band, plan.vfo_low_hz, plan.vfo_high_hz, band.vfo_shift)
        for plan, band in zip(plans, bands, strict=True)
    )
    made = None if tank is None else tank_design.design(tank, wanted)
    if not isinstance(made, TankDesign) or made.limits:
        found = tank_design.typical(wanted, tank)
        # The feedback of a rig that is moved is its builder's.
        tank = _starting(found, wanted) if tank is None else found
    return rig.edited(("bands",), bands).edited(("vfo", "tank"), tank)


def _starting(tank: Tank, wanted: tuple[WantedRange, ...]) -> Tank:
    """The tank with what makes it start safely on every band, where it does not and that is known."""
    made = tank_design.design(tank, wanted)
    margin = start_up.least_margin(made) if isinstance(made, TankDesign) else None
    if not isinstance(made, TankDesign) or margin is None or margin >= start_up.SAFE_START:
        return tank
    found = start_up.remedy(made)
    return tank if found is None else found.tank


def with_frequencies(project: Project, if_hz: float, schemes: Sequence[Scheme]) -> Project:
    """The rig moved to another IF [Hz] and mixing schemes (one a band), as one edit.

    Crystals of another frequency are other crystals, so the ladder's take typical values again, and a tank
    that does not reach its new ranges gets another coil and tuning capacitor. `DesignError` when the schemes
    are not those of the rig's bands.
    """
    if len(schemes) != len(project.bands):
        raise DesignError(
            "The survey's row is for other bands than the rig has now; wait until the survey is made anew."
        )
    bands = tuple(
        band.edited(("scheme",), scheme) for band, scheme in zip(project.bands, schemes, strict=True)
    )
    stages: tuple[Stage, ...] = project.stages
    if if_hz != project.if_hz:
        stages = tuple(kind_of(stage).at_if(stage, project.if_hz, if_hz) for stage in stages)
    moved = project.edited(("bands",), bands).with_stages(stages).edited(("if_hz",), if_hz)
    return moved if moved.vfo.tank is None else with_tank(moved, moved.vfo.tank)


def with_band(project: Project, band: Band) -> Project:
    """The rig with one more band and filters for it in every band-pass and low-pass stage."""
    stages = []
    for stage in project.stages:
        making = kind_of(stage).making
        if making is not None and making.fresh is not None:
            stage = stage.edited(("filters",), (*stage.at(("filters",)), making.fresh(band)))
        stages.append(stage)
    return project.edited(("bands",), (*project.bands, band)).with_stages(tuple(stages))


def best_scheme(band: Band, if_hz: float) -> Scheme:
    """The scheme that tunes `band` with an IF of `if_hz` [Hz] and the VFO nearest to where it is stable."""
    rows = survey((band,), (if_hz,), min_vfo_hz=1e5)
    return rows[0].schemes[0] if rows else band.scheme


def default_stage(kind: str, bands: Sequence[Band], if_hz: float) -> Stage:
    """A stage of `kind` as it would be added to a rig for `bands` at `if_hz` [Hz].

    `kind` is a kind of the model (`low_pass`, `mixer`, ...); `ValueError` for any other.
    """
    if kind not in KINDS:
        raise ValueError(f"There is no kind of stage called {kind}.")
    return KINDS[kind].default(bands, if_hz)


def _stages(bands: Sequence[Band], if_hz: float) -> tuple[Stage, ...]:
    top_hz = max(band.high_hz for band in bands)
    # Gain falls with frequency: what comes to it on the highest band has it on the others.
    at_rf_hz = significant(top_hz, 3)
    rf_stage = _BLOCKS["rf_stage"].edited(("in_path",), top_hz > RF_STAGE_ABOVE_HZ)
    return (
        LOW_PASS.default(bands, if_hz),
        # The gain is set for the weakest band; the others then come out up to 2 dB stronger.
        power_amplifier(bands),
        built(_BLOCKS["driver"], at_rf_hz, DRIVER),
        built(_BLOCKS["pre_driver"], at_rf_hz, PRE_DRIVER, down_to_hz=min(band.low_hz for band in bands)),
        BAND_PASS.default(bands, if_hz),
        built(rf_stage, at_rf_hz, AT_RF),
        MIXER.default(bands, if_hz),
        built(_BLOCKS["if_amplifier_1"], if_hz, AT_IF),
        _BLOCKS["transmit_if"],
        LADDER.default(bands, if_hz),
        built(_BLOCKS["if_amplifier_2"], if_hz, AT_IF),
        built(_BLOCKS["modulator_buffer"], if_hz, AT_IF),
        of_circuit(Mixer(id="detector", name="Detector, modulator", oscillator="carrier")),
        *_AUDIO,
    )


def _with_drive_set(rig: Project) -> Project:
    """The rig with the transmit IF's gain, in half decibels, such that its weakest band gives the power
    wanted.
    """
    from math import log10

    from core.rig.analysis import Analysis

    block = _BLOCKS["transmit_if"]
    wanted_dbm = 10 * log10(rig.station.power_w * 1e3)
    for _ in range(_DRIVE_STEPS):
        rig = rig.edited(("stages", block.id), built(block, rig.if_hz, AT_IF))
        analysis = Analysis(rig)
        lacking = max(wanted_dbm - float(analysis.transmit(band.name).level_dbm[-1]) for band in rig.bands)
        # The stages compress a little on the way, so that a decibel of gain gives less than one of output.
        step = round(2 * min(max(lacking, -block.gain_db), 30.0 - block.gain_db)) / 2
        if not step:
            break
        block = block.edited(("gain_db",), block.gain_db + step)
    return rig
