"""Rules on who is fed when, with what voltage, and how much it draws."""

from collections.abc import Iterator
from functools import partial
from itertools import product

from core.model.supply.supply import Regulator
from core.model.values.base import Path
from core.model.values.notation import significant
from core.rig.analysis import Analysis
from core.rig.findings import COMMON_PRACTICE, Edit, Finding, rule
from core.rig.rules.power.regulators import is_well
from core.rig.rules.power.tried import mending, remedy_of
from core.rig.supply.consumers import WAYS, Consumer, Feeding, feeding
from core.rig.supply.state import is_on, state
from core.rig.supply.usual import unknown, with_usual_currents

#: A stage that was made for some voltage is as designed within these shares of it [-]; common practice, no
#: source.
_AS_MADE = (0.8, 1.25)
_LOADS: Path = ("supply", "loads")


def _as_it_works(analysis: Analysis, one: Consumer) -> list[Edit]:
    loads = analysis.project.supply.loads if analysis.project.supply is not None else ()
    return [
        Edit(f"Feed {one.name} as it works", (((*_LOADS, each.name, "powered"), "as_it_works"),))
        for each in loads
        if each.of == one.key and each.powered != "as_it_works"
    ]


def _fed_in(key: str, way_at: int, of: Feeding) -> bool:
    """Whether somebody is fed in a direction, by the rail too."""
    one = next(each for each in of.consumers if each.key == key)
    rail = next((each for each in of.supply.regulators if each.name == one.rail), None)
    return one.powered[way_at] and (rail is None or is_on(rail.powered, WAYS[way_at]))


@rule
def stage_not_fed(analysis: Analysis) -> Iterator[Finding]:
    """A stage that works in a direction in which nobody feeds it is dead there."""
    of = feeding(analysis)
    for one in () if of is None else of.consumers:
        assert of is not None
        for at, way in enumerate(WAYS):
            if not one.works[at] or _fed_in(one.key, at, of):
                continue
            tried = _as_it_works(analysis, one)
            if one.rail:
                path = ("supply", "regulators", one.rail, "powered")
                tried.append(Edit(f"Leave the regulator {one.rail} on in both", ((path, "both"),)))
            edits = mending(analysis, partial(_fed_in, one.key, at), *tried)
            yield Finding(
                severity="fault",
                rule="stage_not_fed",
                stage=one.key if one.role != "load" else "supply",
                subject=f"{one.key}, {way}",
                path=_LOADS,
                words=f"{one.name} works in {way} and is not fed then.",
                remedy=remedy_of(edits, f"Feed {one.name} in {way} too."),
                source=COMMON_PRACTICE,
                edits=edits,
            )


@rule
def stage_fed_idle(analysis: Analysis) -> Iterator[Finding]:
    """A stage that is fed while it has nothing to do draws current, and in transmit it may howl."""
    of = feeding(analysis)
    for one in () if of is None else of.consumers:
        for at, way in enumerate(WAYS):
            if one.works[at] or not one.powered[at]:
                continue
            edits = tuple(_as_it_works(analysis, one))
            yield Finding(
                severity="caution",
                rule="stage_fed_idle",
                stage=one.key,
                subject=way,
                path=_LOADS,
                words=f"{one.name} is fed in {way}, where it does not work: it draws current and may howl.",
                remedy=remedy_of(edits, f"Switch its supply off in {way}."),
                source=COMMON_PRACTICE,
                edits=edits,
            )


@rule
def currents_unknown(analysis: Analysis) -> Iterator[Finding]:
    """What is not known is counted as nothing."""
    of = feeding(analysis)
    who = () if of is None else unknown(of)
    if of is None or not who:
        return
    words = "Count with what such stages usually draw, until it is measured"
    edits = mending(analysis, lambda fed: not unknown(fed), Edit(words, ((_LOADS, with_usual_currents(of)),)))
    names = [each.name for each in who]
    listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    yield Finding(
        severity="caution",
        rule="currents_unknown",
        stage="supply",
        path=_LOADS,
        words=f"What {listed} draw{'s' if len(names) == 1 else ''} is not known and is counted as nothing.",
        remedy=remedy_of(edits, "Measure the currents and type them."),
        source=f"usual currents: {COMMON_PRACTICE}",
        edits=edits,
    )


def _volts(of: Feeding, key: str) -> list[float]:
    """The voltages that somebody gets, over the source and the directions, V."""
    found = (
        state(of, source_v, way, full=False).of(key) for source_v in of.source_v.values() for way in WAYS
    )
    return [each.volt for each in found if each is not None]


def _is_borne(key: str, of: Feeding) -> bool:
    """Whether somebody bears what it gets, from a regulator that is well."""
    one = next(each for each in of.consumers if each.key == key)
    borne = one.bears_v is None or max(_volts(of, key), default=0.0) <= one.bears_v
    return borne and (not one.rail or is_well(one.rail, of))


def _on_a_rail(of: Feeding, one: Consumer) -> list[Edit]:
    """Hang somebody on a regulator that is there, or on a new one."""
    path: Path = ("supply", "regulators")
    bears_v = one.bears_v or 0.0
    others = [
        each.edited(("feeds",), tuple(key for key in each.feeds if key != one.key))
        for each in of.asked.regulators
    ]
    found = [
        Edit(
            f"Hang {one.name} on the regulator {each.name}",
            ((path, (*others[:n], each.edited(("feeds",), (*each.feeds, one.key)), *others[n + 1 :])),),
        )
        for n, each in enumerate(others)
        if each.output_v <= bears_v
    ]
    taken = {each.name for each in others}
    for type_, volt in product(("78m", "78", "low_drop"), (10.0, 9.0, 8.0, 6.0, 5.0)):
        if volt > bears_v:
            continue
        name = f"{volt:g} V" if f"{volt:g} V" not in taken else f"{volt:g} V for {one.key}"[:24]
        fresh = Regulator(name=name, type=type_, output_v=volt, feeds=(one.key,))
        words = f"Give {one.name} a regulator of {volt:g} V"
        found.append(Edit(words, ((path, (*others, fresh)),)))
    return found


@rule
def fed_with_too_much(analysis: Analysis) -> Iterator[Finding]:
    """A stage that gets more than it bears breaks down."""
    of = feeding(analysis)
    for one in () if of is None else of.consumers:
        assert of is not None
        volt = max(_volts(of, one.key), default=0.0)
        if one.bears_v is None or volt <= one.bears_v:
            continue
        edits = mending(analysis, partial(_is_borne, one.key), *_on_a_rail(of, one), most=1)
        yield Finding(
            severity="fault",
            rule="fed_with_too_much",
            stage=one.key,
            path=one.path,
            words=f"{one.name} gets <figure> and bears <limit>.",
            figure=volt,
            limit=one.bears_v,
            unit="V",
            shown="3",
            remedy=remedy_of(edits, "Feed it from a regulator, or build it of parts that bear more."),
            source="breakdown voltage of its parts, or the highest supply of its chip",
            edits=edits,
        )


#: Where oscillators have the supply that they are made for.
_SUPPLIES: dict[str, Path] = {
    "vfo": ("vfo", "tank", "feedback", "supply_v"),
    "carrier": ("carrier", "circuit", "supply_v"),
    "helper": ("read_out", "helper", "circuit", "supply_v"),
}


@rule
def fed_otherwise(analysis: Analysis) -> Iterator[Finding]:
    """A stage that gets another voltage than it was made for does not do what was designed."""
    of = feeding(analysis)
    for one in () if of is None else of.consumers:
        assert of is not None
        made, at = one.made_for_v, (state(of, of.nominal_v, way, full=False).of(one.key) for way in WAYS)
        volt = next((each.volt for each in at if each is not None), None)
        if made is None or volt is None or _AS_MADE[0] * made <= volt <= _AS_MADE[1] * made:
            continue
        asked_v = significant(volt, 2 if volt >= 10 else 1)
        path = _SUPPLIES.get(one.key, ("stages", one.key, "supply_v"))
        tried = Edit(f"Design {one.name} for {asked_v:g} V", ((path, asked_v),))
        edits = (tried,) if tried.tried_on(analysis.project) is not None else ()
        over = volt > made
        yield Finding(
            severity="caution",
            rule="fed_otherwise",
            stage=one.key,
            path=path if edits else one.path,
            words=f"{one.name} is fed with <figure> and was made for {made:g} V, so that "
            + ("up to" if over else "at least")
            + " <limit> would do.",
            figure=volt,
            limit=made * _AS_MADE[over],
            at_least=not over,
            unit="V",
            shown="3",
            remedy=remedy_of(edits, "Feed it from another rail."),
            source=f"its bias follows the supply; the bounds are {COMMON_PRACTICE}",
            edits=edits,
        )


@rule
def fed_by_name(analysis: Analysis) -> Iterator[Finding]:
    """Names of those who hang on a regulator, or whose current is typed, that the rig has not."""
    of = feeding(analysis)
    if of is None:
        return
    known = {key for key, _ in analysis.project.can_be_fed}
    for each in of.supply.regulators:
        lost = [name for name in each.feeds if name not in known]
        if lost:
            path = ("supply", "regulators", each.name, "feeds")
            rest = tuple(name for name in each.feeds if name in known)
            edits = (Edit(f"Take {' and '.join(lost)} off the regulator {each.name}", ((path, rest),)),)
            yield _lost(f"The regulator {each.name} feeds {' and '.join(lost)}", each.name, path, edits)
    for load in of.asked.loads:
        if load.of and load.of not in known:
            others = tuple(one for one in of.asked.loads if one is not load)
            edits = (Edit(f"Take the current of {load.name} out", ((_LOADS, others),)),)
            yield _lost(f"The current of {load.name} is told of {load.of}", load.name, _LOADS, edits)


def _lost(words: str, subject: str, path: Path, edits: tuple[Edit, ...]) -> Finding:
    return Finding(
        severity="caution",
        rule="fed_by_name",
        stage="supply",
        subject=subject,
        path=path,
        words=f"{words}, which the rig has not.",
        remedy=remedy_of(edits, ""),
        source="the project",
        edits=edits,
    )
