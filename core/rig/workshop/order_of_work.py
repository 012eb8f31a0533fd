"""Order of work, from the supply to the power amplifier: what is built, and what is read before going on.

The receiver is built from the speaker to the antenna, so that each stage is heard through those behind it;
the transmitter from the microphone to the antenna, its power amplifier last.
"""

from collections.abc import Iterator

from core.model.project import Stage
from core.model.stages.stage import Way
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.figures.amplifiers import AMPLIFIER
from core.rig.figures.figure import by_key
from core.rig.levels.oscillator_drive import behind
from core.rig.workshop.point_figures import POINT
from core.rig.workshop.steps import COUNTED, Reading, Step
from core.rig.workshop.test_points import TestPoint, points_of
from core.stages.kinds.kind import Driver
from core.stages.kinds.table import kind_of

(_SUPPLY,) = by_key(AMPLIFIER, "supply_a")
_VOLTS, _LEVEL, _SWING = by_key(POINT, "dc_v", "level_dbm", "peak_to_peak_v")


class _Bench:
    """What is built already, and what every point should read."""

    def __init__(self, analysis: Analysis) -> None:
        self.analysis = analysis
        self.band = analysis.project.bands[0].name
        self.points = points_of(analysis)
        self._keyed = {each.key: each for each in self.points}
        self.done: set[str] = set()

    def output(self, stage: str, way: Way | None) -> TestPoint | None:
        """What leaves a stage, or a socket, in a direction on the first band."""
        keys = (f"{stage}/{place}/{way}/{self.band}" for place in ("output", "socket"))
        found = (self._keyed.get(key) for key in keys)
        return next((each for each in found if each is not None), self._keyed.get(f"{stage}/output"))

    def at_rest(self, stage: str, way: Way | None) -> tuple[Reading, ...]:
        """What a stage takes with no signal, and the voltages at its transistors."""
        mine = [
            each
            for each in self.points
            if each.stage == stage and each.way in (None, way) and each.band in ("", self.band)
        ]
        return tuple(map(_reading, (each for each in mine if each.dc_a is not None or each.dc_v is not None)))


def _reading(point: TestPoint) -> Reading:
    limits = point.limits or (None, None)
    figure = _LEVEL if point.level_dbm is not None else _SUPPLY if point.dc_a is not None else _VOLTS
    value = point.level_dbm if point.level_dbm is not None else point.dc_a or point.dc_v
    what = point.words if point.stage != "supply" or point.way is None else f"{point.words}, {point.way}"
    return Reading(what=what, figure=figure, value=value, least=limits[0], most=limits[1])


def order_of_work(analysis: Analysis) -> tuple[Step, ...]:
    """The steps in their order; each must read what it says before the next is begun."""
    bench = _Bench(analysis)
    receive, transmit = analysis.project.path("receive"), analysis.project.path("transmit")
    supply = [each for each in bench.points if each.stage == "supply"]
    fed, taken = ([each for each in supply if (each.dc_a is not None) == of] for of in (False, True))
    steps = [
        Step(
            title="Supply",
            do="Limit the current to what the rig takes, polarity protection and fuse in; nothing else "
            "connected. Then each line of the switched rails and relays made high in turn.",
            instrument="multimeter",
            readings=tuple(map(_reading, fed)),
            subject="supply",
        )
    ]
    for place in range(len(receive) - 1, -1, -1):
        before = receive[place - 1].id if place else "antenna"
        steps += _stage(bench, receive[place], before, "receive")
    for place, stage in enumerate(transmit):
        before = transmit[place - 1].id if place else "microphone"
        if stage.id not in bench.done:
            steps += _stage(bench, stage, before, "transmit")
    if taken:
        steps.append(
            Step(
                title="All together",
                do="The whole rig, with no signal; key up, then key down without speech.",
                instrument="ammeter in the lead",
                readings=tuple(map(_reading, taken)),
                subject="whole",
            )
        )
    return tuple(steps)


def _stage(bench: _Bench, stage: Stage, before: str, way: Way) -> Iterator[Step]:
    """A stage, its oscillator first where it is a mixer and has none yet."""
    driver = kind_of(stage).driver(stage)
    if driver is not None and driver not in bench.done:
        yield from _oscillator(bench, driver)
    bench.done.add(stage.id)
    into, out = bench.output(before, way), bench.output(stage.id, way)
    readings = bench.at_rest(stage.id, way)[:1]
    do = "In its place; the stages built before it stay connected."
    if into is not None and out is not None and out.level_dbm is not None:
        do = (
            f"Put in {_LEVEL.text(into)}, {_SWING.text(into)} from peak to peak in {_load(into)}, at "
            f"{COUNTED.written(into.at_hz) if (into.at_hz or 0) > 1e5 else '1 kHz'}."
        )
        readings = (*readings, _reading(out))
    if kind_of(stage).role == "power_amplifier":
        do = f"Into a dummy load, through its low-pass. {do}"
    yield Step(title=stage.name, subject=stage.id, do=do, instrument="", readings=readings)


def _load(point: TestPoint) -> str:
    (load,) = by_key(POINT, "load_ohm")
    return load.text(point)


def _oscillator(bench: _Bench, driver: Driver) -> Iterator[Step]:
    """An oscillator and all that stands between it and its mixers."""
    bench.done.add(driver)
    analysis, name = bench.analysis, "VFO" if driver == "vfo" else "Carrier oscillator"
    if driver == "vfo":
        plan = analysis.band_plan(bench.band)
        runs = Reading(
            what=f"runs on {spelled(bench.band)} from",
            figure=COUNTED,
            value=plan.vfo_low_hz,
        )
    else:
        runs = Reading(what="runs at about", figure=COUNTED, value=analysis.carrier_hz(bench.band))
    steps: list[tuple[str, str, tuple[Reading, ...]]] = [
        (driver, name, (*bench.at_rest(driver, None)[:1], runs))
    ]
    steps += [
        (each.id, each.name, bench.at_rest(each.id, None)[:1]) for each in behind(analysis.project, driver)
    ]
    for key, title, readings in steps:
        bench.done.add(key)
        out = bench.output(key, None)
        level = () if out is None else (_reading(out),)
        yield Step(title=title, subject=key, do="50 Ω at its output.", readings=(*readings, *level))
