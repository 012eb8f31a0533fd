"""Rules on regulators: room, heat, current, and what they are made for."""

from collections.abc import Iterator
from functools import partial

from core.model.values.base import Path
from core.model.values.notation import significant
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Edit, Finding, rule
from core.rig.rules.power.tried import mending, remedy_of
from core.rig.supply.consumers import Feeding, feeding
from core.rig.supply.parts import MOST_JUNCTION_C, RegulatorFacts, regulator_facts
from core.trade.supply.feeding import regulators

#: A junction beyond this is destroyed sooner or later, °C; makers' data sheets.
_FATAL_C = 125.0


def _regulators(analysis: Analysis) -> Iterator[tuple[Feeding, RegulatorFacts, Path]]:
    of = feeding(analysis)
    for facts in () if of is None else regulator_facts(of):
        assert of is not None
        yield of, facts, ("supply", "regulators", facts.regulator.name)


def _other_types(path: Path, *types: str) -> list[Edit]:
    return [Edit(f"Take a {regulators()[each].name}", (((*path, "type"), each),)) for each in types]


def is_well(name: str, of: Feeding) -> bool:
    """Whether a regulator has room, is cool and bears current and input."""
    facts = next(each for each in regulator_facts(of) if each.regulator.name == name)
    row = facts.row
    return (
        facts.room_v >= row.drop_out_v
        and facts.junction_c <= MOST_JUNCTION_C
        and facts.load_a <= row.most_a
        and facts.most_in_v <= row.most_in_v
        and (not row.made_v or facts.regulator.output_v in row.made_v)
    )


@rule
def regulator_room(analysis: Analysis) -> Iterator[Finding]:
    """Without room above its output a regulator passes on hum and sags with the battery."""
    for of, facts, path in _regulators(analysis):
        name = facts.regulator.name
        if facts.room_v >= facts.row.drop_out_v:
            continue
        lower = [
            Edit(f"Make it {volt:g} V", (((*path, "output_v"), volt),))
            for volt in (10.0, 9.0, 8.0, 6.0, 5.0)
            if volt < facts.regulator.output_v
        ]
        tried = [*_other_types(path, "low_drop"), *lower]
        edits = mending(analysis, partial(is_well, name), *tried)
        yield Finding(
            severity="fault",
            rule="regulator_room",
            stage="supply",
            subject=name,
            path=(*path, "output_v"),
            words=f"The regulator {name} has <figure> above its output with the source at "
            f"{of.empty_v:.3g} V, and needs <limit>.",
            figure=facts.room_v,
            limit=facts.row.drop_out_v,
            at_least=True,
            unit="V",
            shown="2",
            remedy=remedy_of(edits, "Take a lower output voltage, or none at all."),
            source="makers' data sheets, typical, from memory",
            edits=edits,
        )


@rule
def regulator_hot(analysis: Analysis) -> Iterator[Finding]:
    """A regulator that is too hot switches itself off, or dies."""
    for _, facts, path in _regulators(analysis):
        name = facts.regulator.name
        if facts.junction_c <= MOST_JUNCTION_C:
            continue
        tried = _other_types(path, "78m", "78", "317", "low_drop")
        if facts.sink_wanted_k_w is not None:
            sink = significant(0.95 * facts.sink_wanted_k_w, 2)
            tried.insert(0, Edit(f"Give it a heat sink of {sink:g} K/W", (((*path, "sink_k_w"), sink),)))
        edits = mending(analysis, partial(is_well, name), *tried)
        yield Finding(
            severity="fault" if facts.junction_c > _FATAL_C else "caution",
            rule="regulator_hot",
            stage="supply",
            subject=name,
            path=(*path, "sink_k_w"),
            words=f"The regulator {name} has {facts.heat_w:.2g} W of heat, which makes its junction "
            "<figure>, where <limit> is much.",
            figure=facts.junction_c,
            limit=MOST_JUNCTION_C,
            unit="°C",
            remedy=remedy_of(edits, "Drop part of the voltage in a resistor before it, or draw less."),
            source=f"thermal resistance of makers' data sheets; 25 K below their limit is {COMMON_PRACTICE}",
            edits=edits,
        )


@rule
def regulator_overloaded(analysis: Analysis) -> Iterator[Finding]:
    """More current than the family gives, more input than it bears, or a voltage that it is not made for."""
    for _, facts, path in _regulators(analysis):
        name, row = facts.regulator.name, facts.row
        wrong: list[tuple[str, str, float, float, str]] = []
        if facts.load_a > row.most_a:
            words = f"What hangs on the regulator {name} draws <figure>, and a {row.name} gives <limit>."
            wrong.append(("load", words, facts.load_a, row.most_a, "A"))
        if facts.most_in_v > row.most_in_v:
            words = f"The regulator {name} gets <figure> and bears <limit>."
            wrong.append(("input", words, facts.most_in_v, row.most_in_v, "V"))
        made = row.made_v
        edits: tuple[Edit, ...] = ()
        if wrong or (made and facts.regulator.output_v not in made):
            nearest = min(made or (0.0,), key=lambda volt: abs(volt - facts.regulator.output_v))
            tried = _other_types(path, "78m", "78", "317", "low_drop")
            if not wrong:
                tried = [Edit(f"Make it {nearest:g} V", (((*path, "output_v"), nearest),)), *tried]
            edits = mending(analysis, partial(is_well, name), *tried)
        for subject, words, figure, limit, unit in wrong:
            yield Finding(
                severity="fault",
                rule="regulator_overloaded",
                stage="supply",
                subject=f"{name}, {subject}",
                path=(*path, "type"),
                words=words,
                figure=figure,
                limit=limit,
                unit=unit,
                shown="3",
                remedy=remedy_of(edits, "Share what hangs on it between two."),
                source="makers' data sheets, from memory",
                edits=edits,
            )
        if not wrong and made and facts.regulator.output_v not in made:
            yield Finding(
                severity="caution",
                rule="regulator_overloaded",
                stage="supply",
                subject=f"{name}, output",
                path=(*path, "output_v"),
                words=f"No {row.name} is made for {facts.regulator.output_v:g} V, which {name} is to give.",
                remedy=remedy_of(edits, "Take an adjustable one."),
                source="makers' data sheets, from memory",
                edits=edits,
            )
