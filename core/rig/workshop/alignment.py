"""Alignment of a rig that has been built: each step follows from the design, and so do its limits."""

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from core.circuits.ladder import solve
from core.model.bands import Dials
from core.model.values.part_names import reference
from core.model.values.quantities import spelled
from core.rig.analysis import Analysis
from core.rig.figures.amplifiers import AMPLIFIER
from core.rig.figures.figure import by_key
from core.rig.figures.filters import LOSS
from core.rig.figures.levels import DELIVERED, LEVEL, OUTPUT
from core.rig.figures.plan import CARRIER
from core.rig.figures.read_out import READ_OUT
from core.rig.mixer_facts import modulator
from core.rig.sections.rig import carriers_on
from core.rig.workshop.point_figures import POINT
from core.rig.workshop.steps import COUNTED, Reading, Step
from core.rig.workshop.test_points import LEVEL_DB, TestPoint, points_of
from core.stages.crystal_oscillator.design import CrystalOscillatorDesign
from core.stages.crystal_oscillator.soldered import FAMILY
from core.stages.crystal_oscillator.working import Working
from core.stages.filters.ladder_filter import SolvedLadder
from core.stages.kinds.table import KINDS
from core.stages.mixers.design import MixerDesign
from core.stages.outcome import FilterDesign, Unsolved
from core.stages.vfo.tank import TankDesign

(_SUPPLY,) = by_key(AMPLIFIER, "supply_a")
(_SUPPRESSION,) = by_key(CARRIER, "carrier_suppression_db")
(_SWING,) = by_key(POINT, "peak_to_peak_v")
(_OFF,) = by_key(READ_OUT, "error_hz")
#: By how much the ladder's hold on the carrier may be off, dB, and the carrier at most, Hz: choices.
_CARRIER_DB, _MOST_HZ = 3.0, 100.0
#: How far a filter may lose more than it is designed to, and power may be off, dB: common practice, no
#: source.
_MORE_LOSS_DB, _POWER_DB = 1.0, 1.0
_COUNTER = "frequency counter"
_SCOPE = "oscilloscope of 50 MHz, or an RF probe"


def alignment(analysis: Analysis) -> tuple[Step, ...]:
    """The steps in their order: bias, VFO, carrier, drive, band-pass trimmers, balance, power, helper,
    read-out.
    """
    points = {each.key: each for each in points_of(analysis)}
    return (
        *_bias(points),
        *_vfo(analysis),
        *_carrier(analysis),
        *_mixer_drive(analysis),
        *_band_pass(analysis),
        *_balance(analysis),
        *_power(analysis, points),
        *_helper(analysis),
        *_read_out(analysis),
    )


def _bias(points: dict[str, TestPoint]) -> Iterator[Step]:
    """The current of every stage that works in class A or AB, all of them in one step."""
    readings = []
    for point in points.values():
        if point.dc_a is not None and point.limits is not None:
            least, most = point.limits
            way = f", {point.way}" if point.way else ""
            what = f"{point.name}{way}, {point.words}"
            readings.append(Reading(what=what, figure=_SUPPLY, value=point.dc_a, least=least, most=most))
    if readings:
        yield Step(
            title="Bias",
            do="Feed one stage after the other with the voltage told, no signal at its input and 50 Ω at "
            "either end; a current that is off tells of a wrong resistor or a transistor turned round.",
            instrument="multimeter in the stage's supply wire",
            readings=tuple(readings),
        )


def _vfo(analysis: Analysis) -> Iterator[Step]:
    """Range and shift of the VFO on each band."""
    made = analysis.tank
    if not isinstance(made, TankDesign):
        yield Step(
            title="VFO",
            do="Set the range on every band.",
            instrument=_COUNTER,
            readings=tuple(
                Reading(what=f"{spelled(plan.band)}, {end}", figure=COUNTED, value=hz)
                for plan in analysis.frequency_plan
                for end, hz in (("low end", plan.vfo_low_hz), ("high end", plan.vfo_high_hz))
            ),
        )
        return
    trimmers = {part.which: part.ref for part in made.parts if part.role == "trimmer"}
    seen: set[str] = set()
    for cover in made.ranges:
        trimmer = trimmers.get(cover.band) or trimmers.get(None) or "the trimmer"
        again, seen = trimmer in seen, {*seen, trimmer}
        yield Step(
            title=f"VFO on {spelled(cover.band)}",
            subject=cover.band,
            do=_set(trimmer, again=again),
            instrument=_COUNTER,
            readings=(
                Reading(
                    what="meshed",
                    figure=COUNTED,
                    value=cover.covers_low_hz,
                    most=cover.wanted_low_hz,
                ),
                Reading(
                    what="open",
                    figure=COUNTED,
                    value=cover.covers_high_hz,
                    least=cover.wanted_high_hz,
                ),
            ),
        )


def _set(trimmer: str, *, again: bool) -> str:
    """What is done on a band; one that shares its trimmer with a band before it has nothing to set."""
    if again:
        return f"With {trimmer} as it stands look at both ends of the tuning capacitor."
    return (
        f"After an hour's warm-up set {trimmer} for the low end with the tuning capacitor meshed; then open "
        "it and look at the high end. Where that falls short squeeze or spread the coil, and again."
    )


def carrier_tolerance_hz(solved: SolvedLadder, carrier_hz: float) -> float:
    """How far a carrier may lie off [Hz], so that the ladder's hold on it is off by `_CARRIER_DB` at most: by
    the slope of the ladder's skirt there, and `_MOST_HZ` where that is flat.
    """
    loss = solve(solved.design.network, np.array([carrier_hz - 10.0, carrier_hz + 10.0])).loss_db
    slope = abs(float(loss[1] - loss[0])) / 20.0
    return min(_CARRIER_DB / slope, _MOST_HZ) if slope > 0 else _MOST_HZ


def _carrier(analysis: Analysis) -> Iterator[Step]:
    """The carrier of each sideband on the ladder's skirt."""
    solved, made = analysis.ladder_solved, analysis.carrier_circuit
    places = made.places if isinstance(made, CrystalOscillatorDesign) else ()
    for n, row in enumerate(analysis.carriers):
        if isinstance(solved, Unsolved):
            return
        hz = row.place.frequency_hz
        trimmer = f"the trimmer of the {row.sideband} sideband's carrier"
        if places:
            trimmer = f"{trimmer}, {reference(FAMILY, 'trimmer', places[n].place.which)}"
        off = carrier_tolerance_hz(solved, hz)
        bands = " and ".join(map(spelled, row.bands))
        yield Step(
            title=f"Carrier for {bands}",
            subject=row.bands[0],
            do=f"Set {trimmer}, {row.place.side} the filter.",
            instrument=f"{_COUNTER} behind the carrier's buffer",
            readings=(
                Reading(what="carrier", figure=COUNTED, value=hz, least=hz - off, most=hz + off),
                *_output(places[n : n + 1]),
            ),
        )


def _output(places: tuple[Working, ...]) -> Iterator[Reading]:
    """What a crystal oscillator of parts delivers at each of its frequencies."""
    for working in places:
        level = working.level_dbm
        if level is not None:
            most = level + LEVEL_DB
            yield Reading(what="output", figure=LEVEL, value=level, least=level - LEVEL_DB, most=most)


def _helper(analysis: Analysis) -> Iterator[Step]:
    """The helper on the frequency that its crystal is marked with; whatever it then is, is stored."""
    made = analysis.helper_circuit
    if not isinstance(made, CrystalOscillatorDesign):
        return
    (working,) = made.places
    hz = working.place.wanted_hz
    yield Step(
        title="Helper oscillator",
        do=f"Set {reference(FAMILY, 'trimmer')}; what it then runs at goes into the read-out.",
        instrument=f"{_COUNTER} behind the helper's buffer",
        readings=(
            Reading(what="helper", figure=COUNTED, value=hz, least=hz - _MOST_HZ, most=hz + _MOST_HZ),
            *_output(made.places),
        ),
    )


def _mixer_drive(analysis: Analysis) -> Iterator[Step]:
    """What each oscillator delivers to its mixers."""
    if analysis.drives:
        yield Step(
            title="Drive of the mixers",
            do="Look at each mixer's oscillator port with 50 Ω in its place.",
            instrument=_SCOPE,
            readings=tuple(
                Reading(
                    what=each.name,
                    figure=DELIVERED,
                    value=each.delivered_dbm,
                    least=each.least_dbm,
                    most=each.most_dbm,
                )
                for each in analysis.drives
            ),
        )


def _band_pass(analysis: Analysis) -> Iterator[Step]:
    """The trimmers of each band-pass."""
    for row in analysis.filters:
        if KINDS[row.kind].role != "band_pass" or not isinstance(row.design, FilterDesign) or not row.bands:
            continue
        middle_hz, loss = _in_the_middle(row.design, analysis.dials(row.bands))
        bands = " and ".join(map(spelled, row.bands))
        trimmed = " and ".join(row.design.trimmed) or "its resonators"
        yield Step(
            title=f"{row.name} for {bands}",
            subject=row.bands[0],
            do=f"With a generator of 50 Ω before it and 50 Ω behind it, turn {trimmed} for the most; then go "
            "over the band and share out what the ends lack.",
            instrument=f"generator at {COUNTED.written(middle_hz)}, {_SCOPE}",
            readings=(
                Reading(what="least loss", figure=LOSS, value=loss[0], most=loss[0] + _MORE_LOSS_DB),
                Reading(
                    what="loss at the worse end", figure=LOSS, value=loss[1], most=loss[1] + _MORE_LOSS_DB
                ),
            ),
        )


@lru_cache(maxsize=32)
def _in_the_middle(design: FilterDesign, dials: Dials) -> tuple[float, tuple[float, float]]:
    """The middle of the dials [Hz]; least loss on them, and loss at the worse of their ends [dB]."""
    low, high = min(each[0] for each in dials), max(each[1] for each in dials)
    loss = solve(design.network, np.linspace(low, high, 101)).loss_db
    return (low + high) / 2, (float(loss.min()), float(max(loss[0], loss[-1])))


def _balance(analysis: Analysis) -> Iterator[Step]:
    """The null of the modulator."""
    does = _balanced_by(analysis)
    for of in carriers_on(analysis)[:1]:
        expected = of.row.place.suppression_db + of.balance_db
        yield Step(
            title="Carrier balance",
            do=f"Key the transmitter into the dummy load with the microphone shorted; {does} for the least. "
            "Then compare with speech peaks.",
            instrument=f"{_SCOPE} or receiver with an S-meter",
            readings=(
                Reading(
                    what="carrier below speech peaks",
                    figure=_SUPPRESSION,
                    value=expected,
                    least=expected - _CARRIER_DB,
                ),
            ),
        )


def _balanced_by(analysis: Analysis) -> str:
    """What is turned to balance the modulator, by name where its parts are known."""
    band = analysis.project.bands[0].name
    found = modulator(analysis, band)
    made: object = None if found is None else analysis.design(found.stage.id, band)
    if not isinstance(made, MixerDesign):
        return "turn the balance back and forth, resistance and capacitance in turn,"
    turned = [row.ref for row in made.parts if row.role in ("potentiometer", "trimmer")]
    if not turned:
        return "nothing balances this modulator: change its diodes about"
    back = f"turn {' and '.join(turned)} back and forth"
    return f"{back}, one after the other," if len(turned) > 1 else back


def _power(analysis: Analysis, points: dict[str, TestPoint]) -> Iterator[Step]:
    """Microphone gain for the power wanted, on every band."""
    path = analysis.project.path("transmit")
    if not path:
        return
    wanted_w = analysis.project.station.power_w
    readings = []
    for band in analysis.project.bands:
        point = points[f"{path[-1].id}/output/transmit/{band.name}"]
        assert point.power_w is not None
        share = 10 ** (_POWER_DB / 10)
        least = min(wanted_w, point.power_w) / share
        readings.append(
            Reading(what=f"{spelled(band.name)}, power", figure=OUTPUT, value=point.power_w, least=least)
        )
        readings.append(
            Reading(what=f"{spelled(band.name)}, swing", figure=_SWING, value=point.peak_to_peak_v)
        )
    yield Step(
        title="Drive of the transmitter",
        do="A tone as loud as speech peaks into the microphone socket; turn the microphone gain up until the "
        "power is reached and the tops of the envelope stay round. More drive only makes it broad.",
        instrument="dummy load of 50 Ω, oscilloscope, two-tone or single-tone generator",
        readings=tuple(readings),
    )


def _read_out(analysis: Analysis) -> Iterator[Step]:
    """The counter's offset, with the carrier as it was measured."""
    plan = analysis.read_out
    if plan is None:
        return
    yield Step(
        title="Read-out",
        do="Store the carriers as measured above, and look at the display while a station of known frequency "
        "is tuned to zero beat.",
        instrument="a station of known frequency",
        readings=tuple(
            Reading(what=f"{spelled(row.band)}, off", figure=_OFF, value=None, most=row.error.measured_hz)
            for row in plan.bands
            if row.error is not None
        ),
    )
