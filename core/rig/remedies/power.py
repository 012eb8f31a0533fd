"""Edits of a power amplifier of parts, the least first, for `remedy.py` to try."""

from collections.abc import Iterator
from typing import Any

from core.model.values.notation import format_value, significant
from core.rig.analysis import Analysis
from core.rig.findings import Edit, Finding
from core.rig.remedies import gain
from core.stages.transistors import power_row
from core.trade.devices import devices
from core.trade.power_devices import power_devices

#: Heat sinks as they are sold, and a mica insulator, by thermal resistance [K/W], and resistors for a lead
#: [ohm]; from memory.
_SINKS_K_W = (15.0, 10.0, 7.0, 5.0, 4.0, 3.0, 2.5, 2.0, 1.5, 1.0, 0.7, 0.5)
_INSULATOR_K_W = 0.7
_LEADS_OHM = (0.22, 0.47, 1.0, 2.2, 4.7, 10.0)
#: Power, or current, is lowered by so much at a time [-], at most so often.
_LESS, _LESS_OFTEN = 0.85, 12
_SUPPLIES_V = (28.0, 24.0, 13.8, 12.0, 9.0)
_REGULATORS_V = (12.0, 9.0, 8.0, 6.0, 5.0)


def cooler(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """A thinner insulator, a larger sink, then less idle current, then less power, then two transistors."""
    if analysis.project.at(_path(finding, "insulator_k_w")) > _INSULATOR_K_W:
        words = f"Take an insulator of {_INSULATOR_K_W:g} K/W with grease"
        yield _edit(finding, "insulator_k_w", _INSULATOR_K_W, words)
    now = analysis.project.at(_path(finding, "sink_k_w"))
    for sink in _SINKS_K_W:
        if sink < now:
            yield _edit(finding, "sink_k_w", sink, f"Take a heat sink of {sink:g} K/W")
    yield from less(analysis, finding)


def less(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Less idle current, then less power, then two transistors for one, then another one."""
    project = analysis.project
    for field, unit, what in (("idle_a", "A", "idle current"), ("power_w", "W", "power")):
        if field == "idle_a" and project.at(_path(finding, "working_class")) != "ab":
            continue
        now = project.at(_path(finding, field))
        for step in range(1, _LESS_OFTEN + 1):
            value = significant(now * _LESS**step, 2)
            yield _edit(finding, field, value, f"Ask for {format_value(value, unit, 2)} of {what}")
    idle, power = project.at(_path(finding, "idle_a")), project.at(_path(finding, "power_w"))
    for step in range(2, _LESS_OFTEN + 1, 2):
        both = [significant(value * _LESS**step, 2) for value in (idle, power)]
        words = (
            f"Ask for {format_value(both[1], 'W', 2)} with {format_value(both[0], 'A', 2)} of idle current"
        )
        yield Edit(words, ((_path(finding, "idle_a"), both[0]), (_path(finding, "power_w"), both[1])))
    if project.at(_path(finding, "topology")) == "single":
        yield _edit(finding, "topology", "parallel", "Put two transistors in parallel")
    yield from other_device(analysis, finding)


def less_heat(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Class AB for A, then two transistors for one, each with a larger sink if need be; then less of all."""
    project = analysis.project
    now = project.at(_path(finding, "sink_k_w"))
    sinks = [now, *(each for each in _SINKS_K_W if each < now)]
    for field, had, other, words in (
        ("working_class", "a", "ab", "Let it work in class AB"),
        ("topology", "single", "parallel", "Put two transistors in parallel"),
    ):
        if project.at(_path(finding, field)) != had:
            continue
        for sink in sinks:
            if sink == now:
                yield _edit(finding, field, other, words)
            else:
                changes = ((_path(finding, field), other), (_path(finding, "sink_k_w"), sink))
                yield Edit(f"{words} on a heat sink of {sink:g} K/W", changes)
    yield from less(analysis, finding)


def fewer_volts(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """A lower supply, then a transistor that bears more."""
    now = analysis.project.at(_path(finding, "supply_v"))
    for volt in _SUPPLIES_V:
        if volt < now:
            yield _edit(finding, "supply_v", volt, f"Feed it with {volt:g} V")
    yield from other_device(analysis, finding)


def other_device(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Another power transistor of the table, of the same kind first, the weaker ones first."""
    project = analysis.project
    now = project.at(_path(finding, "device"))
    bears = power_row(now, project.transistors)
    most_a = getattr(bears, "most_a", 0.0)
    kind = devices()[now].kind if now in devices() else "mosfet"
    known = sorted(
        power_devices().values(),
        key=lambda row: (devices()[row.device].kind != kind, row.most_a < most_a * 0.6, row.most_a),
    )
    for row in known:
        if row.device != now:
            name = devices()[row.device].name
            yield _edit(finding, "device", row.device, f"Build it with {name}")


def rf_device(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """The transistors that have most gain at the upper end first, then more drive."""
    project = analysis.project
    high_hz = max(band.high_hz for band in project.bands)
    now = project.at(_path(finding, "device"))
    known = sorted(power_devices().values(), key=lambda row: -float(row.gain_at_db(high_hz)))
    for row in known:
        if row.device == now or devices()[row.device].kind != "mosfet":
            continue
        words = f"Build it with {devices()[row.device].name}"
        yield _edit(finding, "device", row.device, words)
        if project.at(_path(finding, "input_turns")) == 1:
            # What a cheap type wanted of drive is too much for it.
            changes = ((_path(finding, "device"), row.device), (_path(finding, "input_turns"), 2))
            yield Edit(f"{words} and 2 to 1 turns at its input", changes)
    yield from gain.more_power(analysis, finding)


def more_drive(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """A core that does, more gain ahead, then a larger swing at the gate."""
    if analysis.project.at(_path(finding, "core")):
        yield from found_core(analysis, finding)
    yield from gain.more_power(analysis, finding)
    turns = analysis.project.at(_path(finding, "input_turns"))
    for fewer in range(turns - 1, 0, -1):
        words = f"Take {fewer} to 1 turns at the input" if fewer > 1 else "Take no input transformer"
        yield _edit(finding, "input_turns", fewer, words)


def more_output(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """More power asked of the match, then another transistor."""
    now = analysis.project.at(_path(finding, "power_w"))
    if analysis.project.at(_path(finding, "core")):
        yield from found_core(analysis, finding)
    if analysis.project.at(_path(finding, "load_ohm")) is not None:
        yield _edit(finding, "load_ohm", None, "Let the load be found from the power")
    for step in range(1, _LESS_OFTEN + 1):
        value = significant(now * 1.15**step, 2)
        yield _edit(finding, "power_w", value, f"Ask for {format_value(value, 'W', 2)} of it")
    yield from other_device(analysis, finding)


def lower_regulator(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """A regulator of fewer volts."""
    now = analysis.project.at(_path(finding, "regulator_v"))
    for volt in _REGULATORS_V:
        if volt < now:
            yield _edit(finding, "regulator_v", volt, f"Take the bias from {volt:g} V")


def followed(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Something that follows the heat, then a resistor in the lead, then a larger sink."""
    now = analysis.project.at(_path(finding, "tracking"))
    for way, words in (
        ("diode", "Put a transistor as a diode on the sink"),
        ("thermistor", "Put a thermistor on the sink"),
    ):
        if way != now:
            yield _edit(finding, "tracking", way, words)
    lead = analysis.project.at(_path(finding, "degeneration_ohm"))
    for way in dict.fromkeys((now if now != "none" else "diode", "diode")):
        for ohm in _LEADS_OHM:
            if ohm > lead:
                words = f"Put {format_value(ohm, 'Ω', 2)} into emitter or source"
                changes = ((_path(finding, "tracking"), way), (_path(finding, "degeneration_ohm"), ohm))
                yield Edit(words if way == now else f"{words}, and a diode on the sink", changes)
    for sink in _SINKS_K_W:
        if sink < analysis.project.at(_path(finding, "sink_k_w")):
            yield _edit(finding, "sink_k_w", sink, f"Take a heat sink of {sink:g} K/W")


def better_input(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """Swamping that is found, then more turns for one, then smaller swamping."""
    if analysis.project.at(_path(finding, "swamping_ohm")) is not None:
        yield _edit(finding, "swamping_ohm", None, "Let the swamping be found")
    turns = analysis.project.at(_path(finding, "input_turns"))
    for more in range(turns + 1, 5):
        yield _edit(finding, "input_turns", more, f"Take {more} to 1 turns at the input")


def found_core(analysis: Analysis, finding: Finding) -> Iterator[Edit]:
    """The smallest core that will do."""
    yield _edit(finding, "core", "", "Let the smallest core that will do be found")


def _path(finding: Finding, field: str) -> tuple[str, str, str]:
    return ("stages", finding.stage, field)


def _edit(finding: Finding, field: str, value: Any, words: str) -> Edit:
    return Edit(words, ((_path(finding, field), value),))
