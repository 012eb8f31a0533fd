"""Rules on crystal oscillators of parts: carrier and helper."""

from collections.abc import Callable, Iterable, Iterator
from math import floor
from typing import Any

from core.model.values.base import Path
from core.model.values.notation import format_value, megahertz, significant
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Edit, Finding, rule
from core.rig.rules.power.tried import remedy_of
from core.rig.sections.crystal_oscillators import SWING, OscillatorAt, oscillators_at
from core.stages.outcome import Unsolved
from core.stages.steps import Steps

#: Where the fields of an oscillator stand: of its circuit, of what brings it to its place, its output.
_CIRCUIT: dict[str, Path] = {"carrier": ("carrier", "circuit"), "helper": ("read_out", "helper", "circuit")}
_AROUND: dict[str, Path] = {"carrier": ("carrier",), "helper": ("read_out", "helper")}
_LEVEL: dict[str, Path] = {"carrier": ("carrier", "output_dbm"), "helper": ("read_out", "helper_dbm")}
#: A margin below which an oscillator cannot start, and below which it is not sure to [-].
LEAST_START, SAFE_START = 1.0, 2.0
#: A margin beside the crystal from which on it may oscillate there [-]: a choice.
BESIDE = 0.8
#: Output that is short by more than this is told of, dB.
SHORT_DB = 1.5
#: What is tried of the margin asked [-], and of the load as shares of it [-].
_MARGINS, _LOADS = (3.0, 2.5, 2.0), (0.7, 0.5, 0.35, 0.25, 0.15)
_SOURCE = "the whole circuit on its fitted parts; "


def _key(of: OscillatorAt, analysis: Analysis) -> str:
    return next(row.stage for row in analysis.oscillators if row.design is of.design)


def _told(of: OscillatorAt) -> str:
    """The oscillator in words, and its sideband where it has two."""
    which = of.working.place.which
    return f"The {of.name.lower()}" + (f" for the {which} sideband at the IF" if which else "")


def _ways(analysis: Analysis, key: str) -> Iterator[tuple[str, Edit]]:
    """What can be changed of an oscillator: what of it, and the edit; the least first."""
    project, circuit = analysis.project, _CIRCUIT[key]
    built = project.at((*circuit, "as_built"))
    if built:
        yield "built", Edit("Take the parts as computed again", (((*circuit, "as_built"), ()),))
    if project.at((*circuit, "device")) not in ("2n3904", "2n2222a"):
        yield "device", Edit("Take a 2N3904 as oscillator", (((*circuit, "device"), "2n3904"),))
    margin = project.at((*circuit, "margin"))
    for asked in _MARGINS:
        if asked < margin:
            yield "margin", Edit(f"Ask for a start-up margin of {asked:g}", (((*circuit, "margin"), asked),))
    load = (*_AROUND[key], "load_capacitance_f")
    whole = project.at(load)
    for share in _LOADS:
        farad = significant(share * whole, 2)
        if farad >= 10e-12:
            yield "load", Edit(f"Load the crystal with {format_value(farad, 'F', 2)}", ((load, farad),))


def _mending(
    analysis: Analysis,
    of: OscillatorAt,
    edits: Iterable[Edit],
    is_mended: Callable[[OscillatorAt], bool],
) -> Steps[tuple[Edit, ...]]:
    """The first edit that mends an oscillator at its frequency and stops it nowhere; empty for none."""
    for edit in edits:
        changed = edit.tried_on(analysis.project)
        now = [] if changed is None else oscillators_at(Analysis(changed))
        yield
        mine = [each for each in now if each.name == of.name]
        same = [each for each in mine if each.working.place.which == of.working.place.which]
        if any(map(is_mended, same)) and all(each.working.margin >= SAFE_START for each in mine):
            return (edit,)
    return ()


def _finding(
    of: OscillatorAt, key: str, rule: str, edits: tuple[Edit, ...], otherwise: str, **said: Any
) -> Finding:
    """What is told of an oscillator at its frequency, with the edits that mend it, or other words."""
    which, remedy = of.working.place.which or "", remedy_of(edits, otherwise)
    return Finding(rule=rule, stage=key, subject=which, remedy=remedy, edits=edits, **said)


def _worst(of: OscillatorAt) -> str:
    """Where the worst crystal's loss is from, unless it is stated."""
    stated = of.design.asked.circuit.worst_ohm is not None
    return "" if stated else "the worst crystal taken to lose twice what its Q tells; "


def _is_cool(of: OscillatorAt) -> bool:
    return (of.working.crystal_w or 0.0) <= of.design.asked.circuit.most_w


def _is_short(of: OscillatorAt) -> bool:
    level = of.working.level_dbm
    return level is not None and level < of.design.asked.level_dbm - SHORT_DB


@rule
def crystal_starts(analysis: Analysis) -> Iterator[Finding | None]:
    """The transistor must give back more than the worst crystal loses."""
    for of in oscillators_at(analysis):
        margin, key = of.working.margin, _key(of, analysis)
        if margin >= SAFE_START:
            continue
        tried = [edit for what, edit in _ways(analysis, key) if what != "margin"]
        edits = yield from _mending(analysis, of, tried, lambda now: now.working.margin >= SAFE_START)
        yield _finding(
            of,
            key,
            "crystal_start",
            edits,
            "Take a crystal of less loss, or one in its usual range; less load helps as well.",
            severity="fault" if margin < LEAST_START else "caution",
            path=(*_CIRCUIT[key], "device"),
            words=f"{_told(of)} gives back <figure> what is lost with the worst crystal; <limit> is safe.",
            figure=margin,
            limit=SAFE_START,
            at_least=True,
            unit="times",
            shown=".2f",
            source=f"{_SOURCE}{_worst(of)}{COMMON_PRACTICE}",
        )


@rule
def crystal_cool(analysis: Analysis) -> Iterator[Finding | None]:
    """A crystal that is driven too hard drifts and ages."""
    for of in oscillators_at(analysis):
        heat, key = of.working.crystal_w, _key(of, analysis)
        if _is_cool(of):
            continue
        tried = [edit for _, edit in _ways(analysis, key)]
        edits = yield from _mending(analysis, of, tried, _is_cool)
        yield _finding(
            of,
            key,
            "crystal_hot",
            edits,
            "Ask for less margin or load, or take a crystal that bears more.",
            severity="caution",
            path=(*_CIRCUIT[key], "most_w"),
            words=f"The crystal of {_told(of)[:1].lower()}{_told(of)[1:]} is driven with <figure> and bears "
            "<limit>.",
            figure=heat,
            limit=of.design.asked.circuit.most_w,
            unit="W",
            shown="2",
            source=f"{SWING}; what it bears as stated, usual values from memory",
        )


@rule
def crystal_rules(analysis: Analysis) -> Iterator[Finding | None]:
    """A coil in series resonates with the holder far above the crystal, and starts there at once."""
    for of in oscillators_at(analysis):
        beside, key = of.beside, _key(of, analysis)
        if beside is None or beside[1] < BESIDE:
            continue
        f_hz, margin = beside
        tried = [edit for _, edit in _ways(analysis, key)]
        coil = (*_AROUND[key], "coil_h")
        if key == "carrier" and analysis.project.carrier.coil_h is not None:
            tried.insert(0, Edit("Let the series coil be found", ((coil, None),)))
        edits = yield from _mending(analysis, of, tried, lambda now: (now.beside or (0.0, 0.0))[1] < BESIDE)
        yield _finding(
            of,
            key,
            "crystal_beside",
            edits,
            "Take a smaller coil, or put a resistor across it.",
            severity="fault" if margin >= 1 else "caution",
            path=(*_CIRCUIT[key], "margin"),
            words=f"{_told(of)} may oscillate at {format_value(f_hz, 'Hz', 3)} by its coil and the crystal's "
            "holder, where its margin is <figure>; up to <limit> is safe.",
            figure=margin,
            limit=BESIDE,
            unit="times",
            shown=".2f",
            source=f"{_SOURCE}the coil's Q taken to rise with the root of frequency",
        )


@rule
def crystal_output(analysis: Analysis) -> Iterator[Finding | None]:
    """The buffer must deliver what is asked, without clipping."""
    for of in oscillators_at(analysis):
        level, asked, key = of.working.level_dbm, of.design.asked.level_dbm, _key(of, analysis)
        if level is None or not _is_short(of):
            continue
        circuit = _CIRCUIT[key]
        volt = analysis.project.at((*circuit, "supply_v"))
        tried = [
            Edit(f"Feed it with {more:g} V", (((*circuit, "supply_v"), more),))
            for more in (9.0, 10.0, 12.0)
            if more > volt
        ]
        tried = [edit for what, edit in _ways(analysis, key) if what == "built"] + tried
        reached = floor(level - asked + analysis.project.at(_LEVEL[key]))
        tried.append(Edit(f"Ask for {reached:g} dBm", ((_LEVEL[key], float(reached)),)))
        edits = yield from _mending(analysis, of, tried, lambda now: not _is_short(now))
        yield _finding(
            of,
            key,
            "crystal_output",
            edits,
            "Take its parts as computed, or put an amplifier behind it.",
            severity="caution",
            path=_LEVEL[key],
            words=f"{_told(of)} gives <figure>, where at least <limit> is asked.",
            figure=level,
            limit=asked - SHORT_DB,
            at_least=True,
            unit="dBm",
            shown=".1f",
            source=SWING,
        )


@rule
def helper_in_reach(analysis: Analysis) -> Iterator[Finding]:
    """The helper's trimmer must bring its crystal to what that is marked with."""
    made = analysis.helper_circuit
    if made is None or isinstance(made, Unsolved) or made.pullings[0].reaches:
        return
    pulling = made.pullings[0]
    yield Finding(
        severity="caution",
        rule="helper_out_of_reach",
        stage="helper",
        path=("read_out", "helper", "trimmer_high_f"),
        words="The helper is to run at <figure>; its trimmer reaches "
        f"{megahertz(pulling.reachable_low_hz, pulling.reachable_high_hz, places=6)}.",
        figure=pulling.wanted_hz,
        unit="Hz",
        shown=".6f M",
        remedy="Take a trimmer of more range, or measure where it runs and enter that.",
        source="reactance of crystal and trimmer in series",
    )
