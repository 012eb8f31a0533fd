"""Who is fed in a rig: by which rail, when, and with how much current at which voltage."""

from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache, partial
from math import log10
from typing import Literal

from core.model.project import Project
from core.model.stages.stage import StageBase, Way
from core.model.supply.supply import Decoupling, Load, Supply
from core.model.values.base import Path
from core.record import record
from core.rig.analysis import Analysis
from core.rig.rows import OSCILLATORS, OscillatorRow
from core.rig.supply.fitted import fitted
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.kinds.draw import Draw, crystal_draw, vfo_draw
from core.stages.kinds.kind import Surroundings
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved

WAYS: tuple[Way, Way] = ("receive", "transmit")
#: Voltages of a rail at which what hangs on it is asked for its current, as shares of the nominal one;
#: between them it is a straight line.
_SHARES = (0.7, 0.85, 1.0, 1.15)
#: Where a current comes from.
Origin = Literal["circuit", "typed", "unknown"]
#: What those draw usually that do not tell it, by role [A]; common practice, no source.
USUAL_A: dict[str, float] = {
    "amplifier": 20e-3,
    "power_amplifier": 100e-3,
    "mixer": 8e-3,
    "audio": 15e-3,
    "vfo": 5e-3,
    "carrier": 5e-3,
    "helper": 5e-3,
    "read_out": 30e-3,
}


@record
class Current:
    """A current over a rail's voltage: at rising voltages [V] without a signal and at full output [A]."""

    volt: tuple[float, ...]
    rest_a: tuple[float, ...]
    full_a: tuple[float, ...]

    def at(self, volt: float, *, full: bool) -> float:
        """The current at a voltage [V], A: below the first in proportion, above the last straight on."""
        known = self.full_a if full else self.rest_a
        if len(self.volt) == 1:
            return known[0] if volt > 0 else 0.0
        if volt <= self.volt[0]:
            return known[0] * max(volt, 0.0) / self.volt[0]
        place = min(bisect_left(self.volt, volt), len(self.volt) - 1)
        before, after = self.volt[place - 1], self.volt[place]
        share = (volt - before) / (after - before)
        return max(known[place - 1] + share * (known[place] - known[place - 1]), 0.0)


@record(kw_only=True)
class Consumer:
    """Somebody who is fed.

    `key` is a stage's, an oscillator's, or the name of a load that is no stage; `rail` the regulator that it
    hangs on, empty for the rig's supply; `works` and `powered` in receive and in transmit; `receive` and
    `transmit` its currents, None where nothing is known of them. `made_for_v` and `bears_v` as of a `Draw`.
    """

    key: str
    name: str
    role: str
    rail: str
    works: tuple[bool, bool]
    powered: tuple[bool, bool]
    receive: Current | None
    transmit: Current | None
    origin: Origin
    made_for_v: float | None = None
    bears_v: float | None = None
    decoupling: Decoupling | None = None

    def on(self, way: Way) -> bool:
        """Whether it is fed in a direction."""
        return self.powered[WAYS.index(way)]

    def current(self, way: Way) -> Current | None:
        """Its current in a direction."""
        return self.receive if way == "receive" else self.transmit

    @property
    def path(self) -> Path:
        """Where in the project it stands."""
        if self.key == "helper":
            return ("read_out", "helper")
        return (self.key,) if self.key in ("vfo", "carrier", "read_out") else ("stages", self.key)


@record(eq=False, kw_only=True)
class Feeding:
    """All that the supply's figures hang on: the supply as it was built and as it was asked, the nominal
    voltage and its hum [V], who is fed, the power at the antenna [dBm], None where nothing sends, and the
    highest frequency of a dial [Hz].
    """

    supply: Supply
    asked: Supply
    nominal_v: float
    ripple_v: float
    consumers: tuple[Consumer, ...]
    sends_dbm: float | None
    top_hz: float

    @property
    def full_v(self) -> float:
        """The highest voltage of the source [V]; a supply that holds its voltage has one."""
        source = self.supply.source
        return source.full_v if source.type == "battery" else self.nominal_v

    @property
    def empty_v(self) -> float:
        """The lowest voltage of the source, V."""
        source = self.supply.source
        return source.empty_v if source.type == "battery" else self.nominal_v

    @property
    def source_v(self) -> dict[str, float]:
        """The voltages of the source that everything is told at, by what it is then [V]."""
        if self.supply.source.type != "battery":
            return {"nominal": self.nominal_v}
        return {"full": self.full_v, "nominal": self.nominal_v, "empty": self.empty_v}


@lru_cache(maxsize=512)
def _asked(
    stage: StageBase, around: Surroundings, way: Way, volts: tuple[float, ...]
) -> tuple[Current, Draw] | None:
    kind = kind_of(stage)
    return _told(volts, (kind.draws(stage, around, way, volt) for volt in volts))


def _told(volts: tuple[float, ...], draws: Iterable[Draw | None]) -> tuple[Current, Draw] | None:
    """What is drawn at these voltages [V] as a current, and the last; None where one of them is not known."""
    known = [each for each in draws if each is not None]
    if len(known) < len(volts):
        return None
    rest, full = tuple(each.rest_a for each in known), tuple(each.most_a for each in known)
    return Current(volts, rest, full), known[-1]


def _typed(ampere: float) -> Current:
    return Current((1.0,), (ampere,), (ampere,))


def _first(own_a: float | None, of_circuit: Current | None, other_a: float | None) -> Current | None:
    """A current typed in, or the circuit's, or what was typed of the other direction, as most draw alike."""
    if own_a is not None:
        return _typed(own_a)
    return of_circuit if of_circuit is not None or other_a is None else _typed(other_a)


def _powered(load: Load, works: tuple[bool, bool]) -> tuple[bool, bool]:
    """Whether it is fed in receive and in transmit."""
    if load.powered == "as_it_works":
        return works
    return load.powered != "transmit", load.powered != "receive"


@record
class _Asker:
    """What a consumer is made from."""

    project: Project
    around: Surroundings
    supply: Supply
    oscillators: tuple[OscillatorRow, ...]

    def load(self, key: str) -> Load | None:
        """What is typed of somebody."""
        return next((each for each in self.supply.loads if each.of == key), None)

    def rail(self, key: str) -> str:
        """The regulator that somebody hangs on; empty: none."""
        return next((each.name for each in self.supply.regulators if key in each.feeds), "")

    def volts(self, rail: str) -> tuple[float, ...]:
        """Where on a rail currents are asked for, V."""
        nominal = self.project.station.supply_v
        for each in self.supply.regulators:
            if each.name == rail:
                nominal = each.output_v
        return tuple(share * nominal for share in _SHARES)

    def made(
        self,
        key: str,
        name: str,
        role: str,
        works: tuple[bool, bool],
        draws: dict[Way, tuple[Current, Draw] | None],
    ) -> Consumer:
        """A consumer whose currents are typed where they are, else as its circuit has them."""
        load = self.load(key)
        told = [draws[way] for way in WAYS]
        known = [None if each is None else each[0] for each in told]
        origin: Origin = "unknown" if None in known else "circuit"
        powered = works
        if load is not None:
            powered = _powered(load, works)
            typed = (load.receive_a, load.transmit_a)
            if typed != (None, None):
                origin = "typed"
                known = [
                    _first(own, of_circuit, other)
                    for own, of_circuit, other in zip(typed, known, typed[::-1], strict=True)
                ]
        draw = next((each[1] for each in told if each is not None), None)
        return Consumer(
            key=key,
            name=name,
            role=role,
            rail=self.rail(key),
            works=works,
            powered=powered,
            receive=known[0],
            transmit=known[1],
            origin=origin,
            made_for_v=None if draw is None else draw.made_for_v,
            bears_v=None if draw is None else draw.bears_v,
            decoupling=None if load is None else load.decoupling,
        )

    def of_stage(self, stage: StageBase) -> Consumer:
        """A stage of the path, or behind an oscillator."""
        volts = self.volts(self.rail(stage.id))
        works = (stage.direction != "transmit", stage.direction != "receive")
        draws = {way: _asked(stage, self.around, way, volts) for way in WAYS}
        return self.made(stage.id, stage.name, kind_of(stage).role, works, draws)

    def of_oscillator(self, key: str, name: str, draw: Callable[[float], Draw | None]) -> Consumer:
        """An oscillator, which draws alike in both directions, by what it draws at a voltage [V]."""
        volts = self.volts(self.rail(key))
        told = _told(volts, map(draw, volts))
        return self.made(key, name, key, (True, True), dict.fromkeys(WAYS, told))

    def of_crystal(self, key: str, made: CrystalOscillatorDesign | Unsolved | None) -> Consumer:
        """A crystal oscillator by its circuit; nothing is known of a block."""
        if not isinstance(made, CrystalOscillatorDesign):
            return self.of_oscillator(key, OSCILLATORS[key], lambda _: None)
        return self.of_oscillator(key, OSCILLATORS[key], partial(crystal_draw, made))

    def everybody(self) -> Iterator[Consumer]:
        """All who are fed, in the order of the path, then oscillators, read-out and the rest."""
        for stage in self.project.stages:
            if stage.in_path:
                one = self.of_stage(stage)
                if not _needs_none(one):
                    yield one
        yield self.of_oscillator("vfo", "VFO", partial(vfo_draw, self.project.vfo))
        none: dict[Way, tuple[Current, Draw] | None] = dict.fromkeys(WAYS)
        crystals = {row.stage: row.design for row in self.oscillators}
        yield self.of_crystal("carrier", crystals.get("carrier"))
        if self.project.read_out is not None:
            yield self.made("read_out", "Read-out", "read_out", (True, True), none)
        if "helper" in crystals:
            yield self.of_crystal("helper", crystals["helper"])
        for load in self.supply.loads:
            if not load.of:
                yield _own(load, self.rail(load.name))


def _own(load: Load, rail: str) -> Consumer:
    """What is no stage; a current that is not typed is none."""
    typed = (load.receive_a, load.transmit_a)
    receive, transmit = (_first(one, None, other) for one, other in zip(typed, typed[::-1], strict=True))
    return Consumer(
        key=load.name,
        name=load.name,
        role="load",
        rail=rail,
        works=_powered(load, (True, True)),
        powered=_powered(load, (True, True)),
        receive=receive,
        transmit=transmit,
        origin="unknown" if receive is None else "typed",
        decoupling=load.decoupling,
    )


def _needs_none(one: Consumer) -> bool:
    """Whether it is a filter, a pad or a ring of diodes, of which nobody typed a current either."""
    known = [each for each in (one.receive, one.transmit) if each is not None]
    return one.origin == "circuit" and not any(max(each.full_a) for each in known) and len(known) == 2


@lru_cache(maxsize=16)
def _feeding(
    supply: Supply,
    station: tuple[float, float],
    consumers: tuple[Consumer, ...],
    sends_dbm: float | None,
    top_hz: float,
) -> Feeding:
    nominal_v, ripple_v = station
    return Feeding(
        supply=fitted(supply),
        asked=supply,
        nominal_v=nominal_v,
        ripple_v=0.0 if supply.source.type == "battery" else ripple_v,
        consumers=consumers,
        sends_dbm=sends_dbm,
        top_hz=top_hz,
    )


@lru_cache(maxsize=8)
def feeding(analysis: Analysis) -> Feeding | None:
    """Who is fed by what in a rig; None where no supply is planned.

    The very same object for rigs that are fed alike, so that all that hangs on it is found at once.
    """
    project = analysis.project
    if project.supply is None:
        return None
    sends = any(kind_of(stage).role == "power_amplifier" for stage in project.path("transmit"))
    return _feeding(
        project.supply,
        (project.station.supply_v, project.station.ripple_v),
        tuple(
            _Asker(project, analysis.surroundings, fitted(project.supply), analysis.oscillators).everybody()
        ),
        10 * log10(1e3 * analysis.full_power_w) if sends else None,
        max(band.high_hz for band in project.bands),
    )
