"""Everything that can be read on the bench, with what is expected there: test points, figures, and parts."""

from collections.abc import Callable, Iterator, Mapping

from core.model.values.notation import format_value
from core.rig.analysis import Analysis
from core.rig.log.figures_read import figures_beside, figures_read
from core.rig.log.item import Item
from core.rig.rows import OSCILLATORS, RigPart
from core.rig.supply.soldered import supply_soldered
from core.rig.workshop.test_points import TestPoint, points_beside, points_of

#: How far a part may be off what is written on it [-], by its kind; a crystal's resonance. Common practice,
#: no source.
PART_SHARES: Mapping[str, float] = {"capacitor": 0.05, "inductor": 0.1, "resistor": 0.05, "crystal": 30e-6}


def points(analysis: Analysis) -> tuple[Item, ...]:
    """The test points of a rig, in their own order."""
    return tuple(map(_of_point, points_of(analysis)))


def items(analysis: Analysis) -> tuple[Item, ...]:
    """All that can be read of a rig, stage by stage: of each its points, figures, then parts."""
    every = (*points(analysis), *figures_read(analysis), *map(_of_part(analysis), _parts(analysis)))
    order = ["supply", "vfo", "carrier", "antenna", *(each.id for each in analysis.project.stages)]
    places = {stage: n for n, stage in enumerate((*order, "microphone", ""))}
    return tuple(sorted(every, key=lambda each: places.get(each.stage, len(places))))


def value_of(analysis: Analysis, item: Item) -> float | None:
    """What is expected of an item of another rig that has the same; None where that has none."""
    if item.about == "point":
        code, level = item.code, item.unit == "dBm"
        among = points_beside(analysis, item.stage, item.way, item.band, level=level)
        point = next((each for each in among if each.key == code), None)
        return None if point is None else _of_point(point).value
    of = (
        figures_beside(item)(analysis)
        if item.about == "figure"
        else map(_of_part(analysis), _parts(analysis))
    )
    return next((each.value for each in of if each.place == item.place), None)


def _of_point(point: TestPoint) -> Item:
    value, unit = next(
        (value, unit)
        for value, unit in ((point.level_dbm, "dBm"), (point.dc_v, "V"), (point.dc_a, "A"), (0.0, "V"))
        if value is not None
    )
    low, high = point.limits or (value, value)
    into = "" if point.load_ohm is None else f" into {format_value(point.load_ohm, 'Ω', 3)}"
    put_in = f", with {point.signal}" if point.signal else ""
    return Item(
        about="point",
        stage=point.stage,
        name=point.name,
        key=point.place,
        words=point.words,
        unit=unit,
        value=value,
        plus_minus=(high - low) / 2,
        way=point.way or "",
        band=point.band,
        load_ohm=point.load_ohm,
        help=f"What is read at {point.words}{into}{put_in}.",
        sought=True,
    )


def _parts(analysis: Analysis) -> Iterator[RigPart]:
    fed = supply_soldered(analysis)
    of_supply = () if fed is None else (RigPart("supply", (), None, part) for part in fed.parts)
    return (each for each in (*analysis.parts, *of_supply) if each.part.kind in PART_SHARES)


def _of_part(analysis: Analysis) -> Callable[[RigPart], Item]:
    names = {each.id: each.name for each in analysis.project.stages} | OSCILLATORS
    names |= {"vfo": "VFO", "supply": "Supply"}

    def made(each: RigPart) -> Item:
        part = each.part
        return Item(
            about="part",
            stage=each.stage,
            name=names[each.stage],
            key=part.key,
            words=part.ref,
            unit=part.unit,
            value=part.preferred,
            plus_minus=PART_SHARES[part.kind] * abs(part.preferred),
            band=each.bands[0] if each.index is not None and each.bands else "",
            help=f"{part.ref}, {part.kind}{f', {part.note}' if part.note else ''}",
        )

    return made
