"""Everything that can be read on the bench, with what is expected there and how far a reading may be off.

How far is common practice, no source, for what no test point tells; a builder gives another for any reading.
"""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from difflib import get_close_matches
from math import log10, sqrt
from typing import Any

from core.model.notebook.bench_log import About
from core.model.values.errors import DesignError
from core.model.values.notation import format_value, parse, parse_near
from core.model.values.quantities import spelled
from core.model.values.wording import shortened
from core.record import record
from core.rig.analysis import Analysis
from core.rig.circuits import rows_of
from core.rig.figures.amplifiers import AMPLIFIERS
from core.rig.figures.figure import Figure, Table
from core.rig.figures.filters import FILTER, FilterOn
from core.rig.figures.levels import TRANSMIT, sent
from core.rig.figures.mixers import MIXERS
from core.rig.figures.plan import CARRIER
from core.rig.figures.receive import RECEIVE
from core.rig.figures.vfo import VFO
from core.rig.mixer_facts import MixerFacts, mixer_facts
from core.rig.rows import FilterRow, RigPart
from core.rig.sections.rig import carriers_on, filters_on, vfo_on
from core.rig.workshop.test_points import TestPoint, each_point, points_of
from core.stages.amplifiers.figures import AmplifierFigures, figures
from core.stages.amplifiers.pair import amplifiers_in
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved

#: How far a part may be off what is written on it [-], by its kind; a crystal's resonance.
PART_SHARES: Mapping[str, float] = {"capacitor": 0.05, "inductor": 0.1, "resistor": 0.05, "crystal": 30e-6}
#: How far a figure may be off: a share of it [-] by its unit ...
_SHARES = {"Hz": 0.1, "Ω": 0.2, "A": 0.2, "V": 0.1, "W": 0.25, "turns": 0.1, "Hz/turn": 0.2, "Hz/K": 1.0}
#: ... or so much in decibels, and so much of a frequency that something lies at, by the figure's key.
_DECIBELS = 1.0
_AT: Mapping[str, float] = {"centre_hz": 0.005, "covers_low_hz": 0.005, "covers_high_hz": 0.005}
_OFF_HZ: Mapping[str, float] = {"frequency_hz": 50.0}
_OFF_DB: Mapping[str, float] = {
    "mds_dbm": 3.0,
    "ripple_db": 0.5,
    "served_loss_db": 0.5,
    "insertion_loss_db": 1.0,
    "worst_harmonic_dbc": 3.0,
    "carrier_suppression_db": 6.0,
    "input_return_loss_db": 5.0,
    "output_return_loss_db": 5.0,
    "return_loss_db": 5.0,
    "served_return_loss_db": 5.0,
}
#: Of these only one side is bad: less of the first, more of the second.
_AT_LEAST = frozenset(
    {
        "served_return_loss_db",
        "return_loss_db",
        "input_return_loss_db",
        "output_return_loss_db",
        "carrier_suppression_db",
        "unwanted_sideband_1khz_db",
        "output_w",
        "covers_high_hz",
    }
)
_AT_MOST = frozenset(
    {
        "served_loss_db",
        "insertion_loss_db",
        "ripple_db",
        "worst_harmonic_dbc",
        "imd_dbc",
        "mds_dbm",
        "noise_figure_db",
        "covers_low_hz",
    }
)
#: What a level is taken to stand in where nothing is said, ohm.
_NOMINAL_OHM = 50.0
#: Units of a level besides decibels over a milliwatt.
LEVEL_UNITS = ("dBm", "W", "V", "V pp")


@record(kw_only=True)
class Item:
    """Something that can be read: which it is, what a builder calls it, and what is expected.

    `about`, `stage`, `key`, `way` and `band` are what a reading binds to; `name` is the stage's, `words` what
    is read there and `help` what that is. `value` is what is expected in `unit`, None where nothing is, and
    `plus_minus` how far it may be off; only one side is bad where it is `at_least` or `at_most` that much. A
    level stands in `load_ohm` [ohm]. `sought` are those that a rig is brought up by.
    """

    about: About
    stage: str
    name: str
    key: str
    words: str
    unit: str
    value: float | None
    plus_minus: float
    way: str = ""
    band: str = ""
    load_ohm: float | None = None
    figure: Figure[Any] | None = None
    help: str = ""
    at_least: bool = False
    at_most: bool = False
    sought: bool = False

    @property
    def place(self) -> tuple[str, str, str, str, str]:
        """What a reading of it is bound to."""
        return self.about, self.stage, self.key, self.way, self.band

    @property
    def code(self) -> str:
        """The same as one word, for a command line: `ladder/bandwidth_6db_hz/20m`."""
        return "/".join(filter(None, (self.stage or "rig", self.key, self.way, self.band)))

    @property
    def title(self) -> str:
        """The whole in words: stage, what is read, direction and band."""
        where = ", ".join(filter(None, (self.way, spelled(self.band) if self.band else "")))
        return f"{self.name}: {self.words}{f' ({where})' if where else ''}"

    def text(self, value: float | None, unit: str = "") -> str:
        """A value of it as it is written."""
        if value is None:
            return "—"
        unit = unit or self.unit
        if unit == "V pp":
            return f"{format_value(value, 'V', 3)} pp"
        if self.figure is not None and unit == self.unit:
            return self.figure.written(value)
        if unit.startswith("dB"):
            return f"{value:.1f} {unit}".replace("-", "−")
        return format_value(value, unit, 6 if unit == "Hz" else 4)

    def spread_text(self, value: float) -> str:
        """How far something may be off, as it is written: two digits."""
        if self.unit.startswith("dB"):
            return f"{value:.2g} dB"
        return format_value(value, self.unit, 2)

    def in_unit(self, value: float, unit: str) -> float:
        """A value read in a unit, in the item's own; `DesignError` where that is another thing."""
        if unit in ("", self.unit):
            return value
        if self.unit == "dBm" and unit in LEVEL_UNITS:
            rms_v = value / (2 * sqrt(2)) if unit == "V pp" else value
            watt = value if unit == "W" else rms_v**2 / (self.load_ohm or _NOMINAL_OHM)
            if not watt > 0:
                raise DesignError("A level of nothing at all cannot be told in dBm; leave it out.")
            return 10 * log10(watt / 1e-3)
        raise DesignError(f"{self.title} is read in {self.unit or 'plain numbers'} and not in {unit}.")

    def off(self, value: float, unit: str) -> float:
        """How far a reading lies from what is expected, in the item's unit; zero without."""
        return 0.0 if self.value is None else self.in_unit(value, unit) - self.value


def read_as(item: Item, text: str) -> tuple[float, str]:
    """The value and the unit that a text means as a reading of an item: `2.5 Vpp`, `-20 dBm`, `2400`.

    A bare number is in the unit in which what is expected is written. `DesignError` with one sentence.
    """
    level = _LEVEL.fullmatch(text.strip()) if item.unit == "dBm" else None
    if level is not None:
        # The number goes with its prefix and a plain unit; from peak to peak is told apart here alone.
        unit = "V pp" if level["pp"] else level["unit"].upper()
        return parse(f"{level['number']} {level['prefix']}{level['unit'].upper()}", unit[0]), unit
    if item.unit.startswith("dB") or item.value is None:
        return parse(text, item.unit), item.unit
    return parse_near(text, item.unit, _shown(item), item.value), item.unit


#: A level as volts, from peak to peak or not, or as watts.
_LEVEL = re.compile(r"(?P<number>.*\d)\s*(?P<prefix>[pnuµmk]?)(?P<unit>[vVwW])\s*(?P<pp>p-?p)?")


def _shown(item: Item) -> str:
    """The unit with its prefix in which what is expected is written."""
    return item.text(item.value).rpartition(" ")[2]


def points(analysis: Analysis) -> tuple[Item, ...]:
    """The test points of a rig, in their own order."""
    return tuple(map(_of_point, points_of(analysis)))


def items(analysis: Analysis) -> tuple[Item, ...]:
    """All that can be read of a rig, stage by stage: of each its points, figures, then parts."""
    every = (*points(analysis), *_figures(analysis), *map(_of_part(analysis), _parts(analysis)))
    order = ["supply", "vfo", "carrier", "antenna", *(each.id for each in analysis.project.stages)]
    places = {stage: n for n, stage in enumerate((*order, "microphone", ""))}
    return tuple(sorted(every, key=lambda each: places.get(each.stage, len(places))))


def value_of(analysis: Analysis, item: Item) -> float | None:
    """What is expected of an item of another rig that has the same; None where that has none."""
    if item.about == "point":
        code = item.code
        point = next((each for each in each_point(analysis) if each.key == code), None)
        return None if point is None else _of_point(point).value
    of = _figures_of(item)(analysis) if item.about == "figure" else map(_of_part(analysis), _parts(analysis))
    return next((each.value for each in of if each.place == item.place), None)


def found(items_: tuple[Item, ...], code: str) -> Item:
    """The item of a code; `DesignError` names what comes near."""
    for each in items_:
        if each.code == code:
            return each
    near = get_close_matches(code, [each.code for each in items_], n=3, cutoff=0.4)
    hint = f"did you mean {' or '.join(near)}?" if near else "--all lists what can be read."
    raise DesignError(f"There is nothing called {shortened(code)} to be read in this rig; {hint}")


# -- test points ------------------------------------------------------------------------------------------


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


# -- figures ----------------------------------------------------------------------------------------------

#: By table, what is read on the bench of it, and of that what a rig is brought up by.
_FILTER = (
    "centre_hz",
    "bandwidth_3db_hz",
    "bandwidth_6db_hz",
    "bandwidth_60db_hz",
    "ripple_db",
    "insertion_loss_db",
    "served_loss_db",
    "served_return_loss_db",
    "return_loss_db",
)
_SOUGHT_OF = {
    "channel_filter": frozenset({"bandwidth_6db_hz", "ripple_db", "insertion_loss_db"}),
    "band_pass": frozenset({"centre_hz", "bandwidth_3db_hz", "served_loss_db"}),
    "low_pass": frozenset({"bandwidth_3db_hz", "served_loss_db", "served_return_loss_db"}),
}
_AMPLIFIER = (
    "gain_db",
    "input_return_loss_db",
    "output_return_loss_db",
    "noise_figure_db",
    "compression_dbm",
)
_MIXER = ("gain_db", "noise_figure_db", "iip3_dbm", "p1db_in_dbm", "balance_db")
_CARRIER = ("frequency_hz", "carrier_suppression_db", "unwanted_sideband_1khz_db")
_VFO = ("covers", "worst_hz_per_turn", "worst_drift_hz_per_degree", "warm_up")
_RECEIVE = ("mds_dbm", "noise_figure_db", "iip3_dbm")
_TRANSMIT = ("output_w", "worst_harmonic_dbc", "imd_dbc")
_SOUGHT = frozenset(
    {
        "gain_db",
        "frequency_hz",
        "covers_low_hz",
        "covers_high_hz",
        "mds_dbm",
        "output_w",
        "worst_harmonic_dbc",
    }
)


def _figures(analysis: Analysis) -> Iterator[Item]:
    for each in (_of_filters, _of_amplifiers, _of_mixers, _of_carrier, _of_vfo, _of_rig):
        yield from each(analysis)


def _figures_of(item: Item) -> Callable[[Analysis], Iterator[Item]]:
    """What makes the figures among which an item is, and as few others as can be."""
    if item.stage in ("", "vfo", "carrier"):
        return {"": _of_rig, "vfo": _of_vfo, "carrier": _of_carrier}[item.stage]

    def of_stage(analysis: Analysis) -> Iterator[Item]:
        for each in (_of_filters, _of_amplifiers, _of_mixers):
            yield from each(analysis, item.stage)

    return of_stage


def _of_filters(analysis: Analysis, alone: str = "") -> Iterator[Item]:
    if not alone:
        on_bands = filters_on(analysis)
    else:
        rows = rows_of(analysis.project, analysis.surroundings, alone)
        filters = [row for row in rows if isinstance(row, FilterRow)]
        on_bands = [FilterOn(analysis, row, band) for row in filters for band in row.bands or ("",)]
    for on in on_bands:
        row = on.row
        sought = _SOUGHT_OF.get(kind_of(analysis.project.stage(row.stage)).role, frozenset())
        yield from _read(FILTER, _FILTER, on, row.stage, row.name, sought, band=on.band)


def _of_amplifiers(analysis: Analysis, alone: str = "") -> Iterator[Item]:
    rows = rows_of(analysis.project, analysis.surroundings, alone) if alone else analysis.circuits
    for row in rows:
        for design in amplifiers_in(row.design):
            got = figures(design, design.asked_at_hz)
            if isinstance(got, Unsolved):
                continue
            stage = analysis.project.stage(row.stage)
            measured_db = kind_of(stage).measured_gain_db(stage, design.way or "receive")
            of = _Amplified(got)
            for each in _read(AMPLIFIERS, _AMPLIFIER, of, row.stage, row.name, _SOUGHT, way=design.way or ""):
                # A reading that was taken into the design is what it counts with.
                counts = measured_db if each.key == "gain_db" else None
                yield each if counts is None else replace(each, value=counts)


@record
class _Amplified:
    """What the figures of an amplifier are got from that can be read: without its sweep, which takes long."""

    figures: AmplifierFigures


def _of_mixers(analysis: Analysis, alone: str = "") -> Iterator[Item]:
    sought = frozenset({"balance_db"})
    for facts, stage in _mixers(analysis, alone):
        yield from _read(MIXERS, _MIXER, facts, stage, analysis.project.stage(stage).name, sought)


def _of_carrier(analysis: Analysis) -> Iterator[Item]:
    for carrier in carriers_on(analysis):
        band = carrier.row.bands[0]
        yield from _read(CARRIER, _CARRIER, carrier, "carrier", "Carrier oscillator", _SOUGHT, band=band)


def _of_vfo(analysis: Analysis) -> Iterator[Item]:
    for tuned in vfo_on(analysis):
        yield from _read(VFO, _VFO, tuned, "vfo", "VFO", _SOUGHT, band=tuned.cover.band)


def _of_rig(analysis: Analysis) -> Iterator[Item]:
    project = analysis.project
    for band in (each.name for each in project.bands):
        if project.path("receive"):
            levels = analysis.receive(band)
            yield from _read(RECEIVE, _RECEIVE, levels, "", "Receiver", _SOUGHT, way="receive", band=band)
        if project.path("transmit"):
            of = sent(analysis, band)
            yield from _read(TRANSMIT, _TRANSMIT, of, "", "Transmitter", _SOUGHT, way="transmit", band=band)


def _mixers(analysis: Analysis, alone: str) -> Iterator[tuple[MixerFacts, str]]:
    for drive in analysis.drives:
        if alone not in ("", drive.stage):
            continue
        facts = mixer_facts(analysis, analysis.project.stage(drive.stage), analysis.project.bands[0].name)
        if isinstance(facts, MixerFacts):
            yield facts, drive.stage


def _read(
    table: Table[Any],
    keys: tuple[str, ...],
    of: Any,
    stage: str,
    name: str,
    sought: frozenset[str],
    *,
    way: str = "",
    band: str = "",
) -> Iterator[Item]:
    """The figures of these keys that a result has as numbers; of several numbers each by its own key."""
    for figure in table:
        if figure.key not in keys:
            continue
        value = figure.get(of)
        ends = zip(figure.keys, value, strict=False) if isinstance(value, tuple) else ((figure.key, value),)
        for key, number in ends:
            if isinstance(number, bool) or not isinstance(number, (int, float)):
                continue
            low_or_high = "" if key == figure.key else f", {'low' if key == figure.keys[0] else 'high'} end"
            yield Item(
                about="figure",
                stage=stage,
                name=name,
                key=key,
                words=f"{figure.title}{low_or_high}",
                unit="" if figure.unit == "-" else figure.unit,
                value=float(number),
                plus_minus=usual_tolerance(key, figure.unit, float(number)),
                way=way,
                band=band,
                figure=figure,
                help=figure.tip,
                at_least=key in _AT_LEAST,
                at_most=key in _AT_MOST,
                sought=key in sought,
            )


def usual_tolerance(key: str, unit: str, value: float) -> float:
    """How far a figure may usually be off what is expected, in its unit; common practice, no source."""
    if key in _OFF_HZ:
        return _OFF_HZ[key]
    if key in _AT:
        return _AT[key] * abs(value)
    if unit.startswith("dB"):
        return _OFF_DB.get(key, 3.0 if unit == "dBm" else _DECIBELS)
    return _SHARES.get(unit, 0.2) * abs(value)


# -- parts ------------------------------------------------------------------------------------------------


def _parts(analysis: Analysis) -> Iterator[RigPart]:
    return (each for each in analysis.parts if each.part.kind in PART_SHARES)


def _of_part(analysis: Analysis) -> Callable[[RigPart], Item]:
    names = {stage.id: stage.name for stage in analysis.project.stages} | {"vfo": "VFO"}

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
