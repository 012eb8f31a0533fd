"""Test points of the whole rig as data: what to expect where, in direct current and in signals.

Levels are the analysis' own; voltages are those of the level in the load that is named. What the tolerances
are is common practice, no source: parts within ±5 %, transistors of any bag.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import partial
from itertools import chain
from math import sqrt
from typing import ClassVar, Protocol, runtime_checkable

from core.circuits.active.large_signal import UNFED_V
from core.circuits.active.operating import Bias
from core.circuits.circuit import GROUND, Circuit
from core.circuits.units import dbm, watts
from core.model.bands import Band
from core.model.stages.stage import Way
from core.model.values.notation import format_value
from core.model.values.parts import key
from core.record import record
from core.rig.analysis import Analysis
from core.rig.circuits import rows_of
from core.rig.levels.blocks import Block
from core.rig.levels.receive import ReceiveLevels
from core.rig.levels.s_meter import s_name
from core.rig.levels.transmit import TransmitLevels
from core.rig.rows import CircuitRow
from core.rig.supply.by_table import adjusting
from core.rig.supply.consumers import WAYS
from core.rig.supply.rails import rail_volts
from core.rig.supply.soldered import supply_soldered
from core.rig.supply.state import is_on, state
from core.stages.amplifiers.design import AmplifierDesign
from core.stages.amplifiers.pair import amplifiers_in
from core.stages.kinds.kind import NOMINAL_OHM, SPEECH_TONE_HZ, Driver, Zone
from core.stages.outcome import Unsolved
from core.stages.vfo import oscillator
from core.stages.vfo.tank import TankDesign

#: How far a direct voltage may be off, as a share of it [-] and at least [V]; a current's share [-]; a level,
#: dB. Common practice, no source.
DC_SHARE, DC_LEAST_V, CURRENT_SHARE, LEVEL_DB = 0.1, 0.1, 0.2, 3.0
#: Signals over S9 that are put in at the antenna, dB: the strongest that overloads nothing, to be measured.
_SIGNALS_DB = (40.0, 30.0, 20.0, 10.0, 0.0, -12.0, -24.0, -36.0, -48.0)
#: What a probe for signals is, ohm.
PROBE_OHM = 1e6
#: Below this a lead carries no voltage worth a reading, V.
_NO_V = 1e-3
_OSCILLATORS: dict[Driver, str] = {"vfo": "VFO", "carrier": "Carrier oscillator"}


@runtime_checkable
class Resting(Protocol):
    """A design with transistors at rest: an amplifier, and whatever else has a bias."""

    @property
    def circuit(self) -> Circuit:
        """Nodes and parts."""

    @property
    def rest(self) -> Bias:
        """Direct voltages and currents."""


@record(kw_only=True)
class TestPoint:
    """A place where something is measured, and what is expected there.

    `stage` is the stage's key, or `vfo`, `carrier`, `supply`, `antenna`, `microphone`; `place` the place in
    it, which does not change when values do, and `words` what a builder calls it. `way` and `band` are those
    of the signal, None and empty where it makes no difference. Either `dc_v` [V] or `dc_a` [A] or `level_dbm`
    is known; a level stands in `load_ohm` [ohm] at `at_hz` [Hz]. `signal` tells what is put in for it.
    """

    __test__: ClassVar[bool] = False

    stage: str
    name: str
    place: str
    words: str
    way: Way | None = None
    band: str = ""
    dc_v: float | None = None
    dc_a: float | None = None
    level_dbm: float | None = None
    load_ohm: float | None = None
    at_hz: float | None = None
    signal: str = ""

    @property
    def key(self) -> str:
        """What a reading binds to: stage, place, direction and band, in this order.

        >>> TestPoint(stage="driver", name="Driver", place="output", words="output", way="transmit").key
        'driver/output/transmit'
        """
        return "/".join(filter(None, (self.stage, self.place, self.way, self.band)))

    @property
    def power_w(self) -> float | None:
        """Power of the signal, W."""
        return None if self.level_dbm is None else watts(self.level_dbm)

    @property
    def rms_v(self) -> float | None:
        """Voltage of the signal across the load, V: the root of power times resistance."""
        power_w = self.power_w
        return None if power_w is None or self.load_ohm is None else sqrt(power_w * self.load_ohm)

    @property
    def peak_to_peak_v(self) -> float | None:
        """The same from peak to peak, V: of a sine 2√2 times as much."""
        rms_v = self.rms_v
        return None if rms_v is None else 2 * sqrt(2) * rms_v

    @property
    def limits(self) -> tuple[float, float] | None:
        """Between what a good reading lies, in the unit of what is known: V, A, or dBm."""
        if self.level_dbm is not None:
            return self.level_dbm - LEVEL_DB, self.level_dbm + LEVEL_DB
        if self.dc_a is not None:
            return (1 - CURRENT_SHARE) * self.dc_a, (1 + CURRENT_SHARE) * self.dc_a
        if self.dc_v is None:
            return None
        off = max(DC_SHARE * abs(self.dc_v), DC_LEAST_V)
        return self.dc_v - off, self.dc_v + off


def points_of(analysis: Analysis) -> tuple[TestPoint, ...]:
    """Every test point: the supply, direct voltages stage by stage, oscillators, receive, transmit."""
    resting = _at_rest(analysis, (*analysis.circuits, *analysis.oscillators))
    signals = (_oscillators(analysis), _received(analysis), _sent(analysis))
    return (*_supplied(analysis), *resting, *_vfo_at_rest(analysis), *chain(*signals))


def points_beside(analysis: Analysis, stage: str, way: str, band: str, *, level: bool) -> Iterator[TestPoint]:
    """The test points among which one of a stage is, a `level` or a direct voltage or current, and as few
    others as can be.
    """
    if level:
        only = tuple(each for each in analysis.project.bands if each.name == band)
        of_path = {"receive": _received, "transmit": _sent}.get(way)
        yield from _oscillators(analysis) if of_path is None or not only else of_path(analysis, only)
    elif stage in ("supply", "vfo"):
        yield from {"supply": _supplied, "vfo": _vfo_at_rest}[stage](analysis)
    elif any(each.id == stage for each in analysis.project.stages):
        yield from _at_rest(analysis, rows_of(analysis.project, analysis.surroundings, stage))
    else:
        yield from _at_rest(analysis, [row for row in analysis.oscillators if row.stage == stage])


def at_stage(points: tuple[TestPoint, ...], stage: str) -> tuple[TestPoint, ...]:
    """Those of one stage."""
    return tuple(each for each in points if each.stage == stage)


def signal_over_s9_db(analysis: Analysis) -> float:
    """What is put in at the antenna to measure the receiver, over S9 [dB]: the strongest of a row at which no
    stage overloads on any band.
    """
    levels = [analysis.receive(band.name) for band in analysis.project.bands]
    return next(
        (over for over in _SIGNALS_DB if not any(_overloads(each, over) for each in levels)), _SIGNALS_DB[-1]
    )


def _overloads(levels: ReceiveLevels, over_s9_db: float) -> bool:
    along, _ = levels.station(over_s9_db)
    most = (each.p1db_in_dbm for each in levels.blocks)
    return any(limit is not None and into > limit for limit, into in zip(most, along[:-1], strict=True))


# -- direct current ---------------------------------------------------------------------------------------


def _supplied(analysis: Analysis) -> Iterator[TestPoint]:
    """Voltages of the rig's supply and of every rail, across relays' coils, and the whole current, without a
    signal.
    """
    here = partial(TestPoint, stage="supply", name="Supply")
    yield here(place="rail", words="supply", dc_v=analysis.project.station.supply_v)
    made = supply_soldered(analysis)
    if made is None:
        return
    of = made.feeding
    ways = [way for way in WAYS if analysis.project.path(way)]
    at = {way: state(of, of.nominal_v, way, full=False) for way in WAYS}
    for way in ways:
        yield here(place="rig", words="rig's supply", way=way, dc_v=at[way].rig_v)
    for n, each in enumerate(of.supply.regulators, 1):
        # What resistors of the series give is told of one that is set by them and has none as built.
        set_by = made.parts_of("adjust_lower", n) and not of.asked.regulators[n - 1].as_built
        volt = adjusting(each)[2] if set_by else each.output_v
        only: Way | None = None if each.powered == "both" else each.powered
        if only is not None and only not in ways:
            continue
        yield here(place=f"regulator:{n}", words=f"{each.name} rail", way=only, dc_v=volt)
    for rail in (each for each in made.switches if each.way in ways):
        whole = rail_volts(of, rail.way)[rail.source]
        place = f"rail:{rail.number}"
        yield here(place=place, words=f"{rail.node} rail", way=rail.way, dc_v=whole - rail.rest_lost_v)
    for n, relay in enumerate(of.supply.relays, 1):
        for way in ways:
            if is_on(relay.powered, way):
                place = f"relay:{n}"
                yield here(place=place, words=f"across the coil of {relay.name}", way=way, dc_v=at[way].rig_v)
    for way in ways:
        yield here(place="current", words="whole current", way=way, dc_a=at[way].total_a)


def _at_rest(analysis: Analysis, rows: Iterable[CircuitRow]) -> Iterator[TestPoint]:
    """What each stage of transistors takes, and the voltage at their leads, with no signal."""
    for row in rows:
        made: object = row.design
        for each in amplifiers_in(made) or ((made,) if isinstance(made, Resting) else ()):
            way = each.way if isinstance(each, AmplifierDesign) else None
            here = partial(TestPoint, stage=row.stage, name=row.name, way=way, band=row.own_band)
            taken = sum(each.rest.rails_a.values())
            fed = " and ".join(format_value(volt, "V", 3) for volt in _fed_with(each.circuit))
            yield here(place="current", words=f"current at {fed}", dc_a=taken)
            for part, nodes in each.circuit.transistors:
                # The half of a pair that is not fed is measured when it is.
                if abs(each.rest.transistors[part.ref].output_v) < UNFED_V:
                    continue
                for lead, node in zip(part.device.leads, nodes, strict=True):
                    volt = each.rest.volts.get(node, 0.0)
                    if node != GROUND and abs(volt) > _NO_V:
                        place = f"{key(part.role, part.which)}.{lead}"
                        yield here(place=place, words=f"{part.ref} {lead}", dc_v=volt)


def _fed_with(circuit: Circuit) -> tuple[float, ...]:
    """The voltages that a circuit is fed with [V]; the half of a pair that is not fed has none."""
    return tuple(sorted({rail.volt for rail in circuit.rails if rail.volt}))


def _vfo_at_rest(analysis: Analysis) -> Iterator[TestPoint]:
    """The VFO's device before it oscillates; once it does, its voltages move a little."""
    if not isinstance(analysis.tank, TankDesign):
        return
    feedback = analysis.tank.tank.feedback
    here = partial(TestPoint, stage="vfo", name=_OSCILLATORS["vfo"])
    ampere = oscillator.operating(feedback).current_a
    yield here(place="current", words=f"current at {format_value(feedback.supply_v, 'V', 3)}", dc_a=ampere)
    for lead, volt in oscillator.lead_volts(feedback):
        yield here(place=f"device.{lead}", words=f"Q1 {lead}", dc_v=volt)


# -- signals ----------------------------------------------------------------------------------------------


def _oscillators(analysis: Analysis) -> Iterator[TestPoint]:
    """Both oscillators, what stands behind them, and what arrives at each mixer."""
    for driver, name in _OSCILLATORS.items():
        plan = analysis.frequency_plan[0]
        at = (plan.vfo_low_hz + plan.vfo_high_hz) / 2 if driver == "vfo" else plan.carrier_hz
        of = analysis.driven[driver]
        yield _level(driver, name, "output", "output", of.oscillator.output_dbm, at_hz=at)
        for step in of.steps:
            yield _level(step.stage, step.name, "output", "output", step.output_dbm, at_hz=at)
        for drive in analysis.drives:
            if drive.oscillator == driver:
                words = f"drive from the {'VFO' if driver == 'vfo' else 'carrier oscillator'}"
                yield _level(drive.stage, drive.name, "drive", words, drive.delivered_dbm, at_hz=at)
    yield from _of_crystals(analysis)


def _of_crystals(analysis: Analysis) -> Iterator[TestPoint]:
    """What a probe finds at the transistor of a crystal oscillator, and what the helper gives."""
    for row in analysis.oscillators:
        design = row.design
        if isinstance(design, Unsolved):
            continue
        several = len(design.places) > 1
        for working in design.places:
            if working.emitter_v is None or working.level_dbm is None:
                continue
            which = working.place.which or ""
            on = f", {which} sideband" if several else ""
            yield TestPoint(
                stage=row.stage,
                name=row.name,
                place=f"probe:{which}" if which else "probe",
                words=f"emitter or source of Q1{on}",
                level_dbm=dbm(working.emitter_v**2 / (2 * PROBE_OHM)),
                load_ohm=PROBE_OHM,
                at_hz=working.place.wanted_hz,
            )
            if row.stage == "helper":
                yield _level(
                    row.stage, row.name, "output", "output", working.level_dbm, at_hz=working.place.wanted_hz
                )


def _received(analysis: Analysis, bands: Sequence[Band] = ()) -> Iterator[TestPoint]:
    """The receiver with a signal generator at the antenna, its controls turned down as for a station."""
    if not analysis.project.path("receive"):
        return
    over = signal_over_s9_db(analysis)
    for band in bands or analysis.project.bands:
        levels = analysis.receive(band.name)
        along, _ = levels.station(over)
        signal = f"{s_name(over)} at the antenna"
        first = ("antenna", "Antenna", "socket", "antenna socket")
        yield from _path(analysis, levels, along, "receive", first, signal)


def _sent(analysis: Analysis, bands: Sequence[Band] = ()) -> Iterator[TestPoint]:
    """The transmitter on speech peaks: a steady tone as loud as they are."""
    if not analysis.project.path("transmit"):
        return
    for band in bands or analysis.project.bands:
        levels = analysis.transmit(band.name)
        along = tuple(map(float, levels.level_dbm))
        first = ("microphone", "Microphone", "socket", "microphone socket")
        yield from _path(analysis, levels, along, "transmit", first, "a tone as loud as speech peaks")


def _path(
    analysis: Analysis,
    levels: ReceiveLevels | TransmitLevels,
    along: tuple[float, ...],
    way: Way,
    first: tuple[str, str, str, str],
    signal: str,
) -> Iterator[TestPoint]:
    """What goes into a path, and what leaves each stage of it."""
    blocks, band = levels.blocks, levels.band
    place = analysis.carrier(band)
    if_hz = analysis.project.if_hz if isinstance(place, Unsolved) else place.signal_hz(SPEECH_TONE_HZ)
    hz: dict[Zone, float] = {"rf": levels.dial_hz, "if": if_hz, "audio": SPEECH_TONE_HZ}
    zones: list[Zone] = [each.zone for each in blocks]
    # What leaves the last stage.
    zones.append("audio" if way == "receive" else "rf")
    starts = [first, *((each.stage, each.name, "output", "output") for each in blocks)]
    for n, ((stage, name, where, words), zone) in enumerate(zip(starts, zones, strict=True)):
        load = _load_ohm(analysis, blocks, n, way) if zone == "audio" else NOMINAL_OHM
        yield TestPoint(
            stage=stage,
            name=name,
            place=where,
            words=words,
            way=way,
            band=band,
            level_dbm=along[n],
            load_ohm=load,
            at_hz=hz[zone],
            signal=signal,
        )


def _load_ohm(analysis: Analysis, blocks: tuple[Block, ...], place: int, way: Way) -> float:
    """What loads audio at a place: the next stage, and the speaker behind the last one."""
    if way == "transmit" and place == 0:
        return analysis.project.microphone.input_ohm
    if place == len(blocks):
        return analysis.project.speaker.impedance_ohm
    return abs(blocks[place].input_ohm)


def _level(stage: str, name: str, place: str, words: str, level_dbm: float, *, at_hz: float) -> TestPoint:
    return TestPoint(
        stage=stage,
        name=name,
        place=place,
        words=words,
        level_dbm=level_dbm,
        load_ohm=NOMINAL_OHM,
        at_hz=at_hz,
    )
