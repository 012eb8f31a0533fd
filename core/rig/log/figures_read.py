"""Declared figures as things to be read: of each table what a bench can tell, and how far it may be off.

How far is common practice, no source; a builder gives another for any reading.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from core.record import record
from core.rig.analysis import Analysis
from core.rig.audio.facts import audio_facts
from core.rig.audio.figures import AUDIO_STAGE, SOUND, SPEECH
from core.rig.circuits import rows_of
from core.rig.figures.amplifiers import AMPLIFIERS
from core.rig.figures.figure import Table
from core.rig.figures.filters import FILTER, KNOWN_BY, FilterOn
from core.rig.figures.levels import TRANSMIT, sent
from core.rig.figures.mixers import MIXERS
from core.rig.figures.plan import CARRIER
from core.rig.figures.receive import RECEIVE
from core.rig.figures.vfo import VFO
from core.rig.log.item import Item
from core.rig.mixer_facts import MixerFacts, mixer_facts
from core.rig.power.facts import OnBand
from core.rig.rows import CircuitRow, FilterRow
from core.rig.sections.power import POWER
from core.rig.sections.power_bands import ON_BANDS
from core.rig.sections.rig import carriers_on, filters_on, sound_of, speech_on, vfo_on
from core.stages.amplifiers.figures import AmplifierFigures, figures
from core.stages.amplifiers.pair import amplifiers_in
from core.stages.audio.design import AudioDesign
from core.stages.kinds.table import kind_of
from core.stages.outcome import Unsolved
from core.stages.power_amplifier.design import PowerDesign
from core.stages.power_amplifier.gain import at
from core.stages.power_amplifier.working import Output, output

#: How far a figure may be off: a share of it [-] by its unit ...
_SHARES = {"Hz": 0.1, "V": 0.1, "W": 0.25, "Hz/turn": 0.2, "Hz/K": 1.0}
#: ... or so much in decibels, and so much of a frequency that something lies at, by the figure's key.
_DECIBELS = 1.0
_AT: Mapping[str, float] = {
    "centre_hz": 0.005,
    "covers_low_hz": 0.005,
    "covers_high_hz": 0.005,
    # Electrolytic capacitors make the one, and a small one that is measured nowhere the other.
    "low_hz": 0.2,
    "high_hz": 0.2,
    # Of a pair as it is matched, where one of its halves hands over to the other.
    "quiet_distortion": 0.5,
    "half_distortion": 0.5,
}
#: A filter's centre lies no further off than this share of its width either [-]: half a percent of the IF is
#: many times the width of a ladder.
_CENTRE_IN_WIDTH = 0.2
_OFF_HZ: Mapping[str, float] = {"frequency_hz": 50.0}
_OFF_DB: Mapping[str, float] = {
    "mds_dbm": 3.0,
    "ripple_db": 0.5,
    "served_loss_db": 0.5,
    "insertion_loss_db": 1.0,
    "worst_harmonic_dbc": 3.0,
    "carrier_suppression_db": 6.0,
    "balance_db": 6.0,
    "input_return_loss_db": 5.0,
    "output_return_loss_db": 5.0,
    "return_loss_db": 5.0,
    "served_return_loss_db": 5.0,
    "supply_gain_db": 6.0,
    "loudest_db_spl": 6.0,
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
        "balance_db",
        "iip3_dbm",
        "oip3_dbm",
        "p1db_in_dbm",
        "compression_dbm",
        "output_w",
        "output_v",
        "most_v",
        "most_w",
        "loudest_db_spl",
        "efficiency",
        "efficiency_two_tones",
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
        "quiet_distortion",
        "half_distortion",
        "supply_gain_db",
        "drive_w",
        "swr",
        "covers_low_hz",
    }
)

#: By table, what is read on the bench of it, and of that what a rig is brought up by.
_FILTER = (*KNOWN_BY, "return_loss_db")
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
    "oip3_dbm",
    "compression_dbm",
)
_MIXER = ("gain_db", "noise_figure_db", "iip3_dbm", "p1db_in_dbm", "balance_db")
_AUDIO = (
    "voltage_gain_db",
    "low_hz",
    "high_hz",
    "noise_figure_db",
    "output_v",
    "output_w",
    "quiet_distortion",
    "half_distortion",
    "supply_gain_db",
    "full_a",
    "gain_there_db",
    "most_v",
)
_POWER = ("idle_a", "supply_a", "efficiency", "efficiency_two_tones")
_POWER_ON = ("gain_db", "most_w", "drive_w", "swr")
_SPEECH = ("corners_hz", "ripple_db")
_SOUND = ("loudest_db_spl",)
_CARRIER = ("frequency_hz", "carrier_suppression_db", "unwanted_sideband_1khz_db")
_VFO = ("covers", "worst_hz_per_turn", "worst_drift_hz_per_degree", "warm_up")
_RECEIVE = ("mds_dbm", "noise_figure_db", "iip3_dbm")
_TRANSMIT = ("output_w", "worst_harmonic_dbc", "imd_dbc")
_SOUGHT = frozenset(
    {
        "gain_db",
        "voltage_gain_db",
        "frequency_hz",
        "covers_low_hz",
        "covers_high_hz",
        "mds_dbm",
        "output_w",
        "worst_harmonic_dbc",
    }
)


def figures_read(analysis: Analysis) -> Iterator[Item]:
    """Every declared figure of a rig that a bench can read."""
    for each in (*_OF_STAGES, _of_carrier, _of_vfo, _of_rig):
        yield from each(analysis)


def figures_beside(item: Item) -> Callable[[Analysis], Iterator[Item]]:
    """What makes the figures among which an item is, and as few others as can be."""
    if item.stage in ("", "vfo", "carrier"):
        return {"": _of_rig, "vfo": _of_vfo, "carrier": _of_carrier}[item.stage]

    def of_stage(analysis: Analysis) -> Iterator[Item]:
        for each in _OF_STAGES:
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
        width_hz = None if on.figures is None else on.figures.bandwidth_3db_hz
        for each in _read(FILTER, _FILTER, on, row.stage, row.name, sought, band=on.band):
            if each.key == "centre_hz" and width_hz is not None:
                each = replace(each, plus_minus=min(each.plus_minus, _CENTRE_IN_WIDTH * width_hz))
            yield each


def _of_amplifiers(analysis: Analysis, alone: str = "") -> Iterator[Item]:
    for row in _rows(analysis, alone):
        for design in amplifiers_in(row.design):
            got = figures(design, design.asked_at_hz)
            if isinstance(got, Unsolved):
                continue
            stage = analysis.project.stage(row.stage)
            read = kind_of(stage).readings(stage, design.way or "receive")
            of = _Amplified(got)
            for each in _read(AMPLIFIERS, _AMPLIFIER, of, row.stage, row.name, _SOUGHT, way=design.way or ""):
                # A reading that was taken into the design is what it counts with.
                yield replace(each, value=read[each.key]) if each.key in read else each


def _rows(analysis: Analysis, alone: str) -> tuple[CircuitRow, ...]:
    return rows_of(analysis.project, analysis.surroundings, alone) if alone else analysis.circuits


@record
class _Amplified:
    """What the figures of an amplifier are got from that can be read: without its sweep, which takes long."""

    figures: AmplifierFigures


def _of_mixers(analysis: Analysis, alone: str = "") -> Iterator[Item]:
    sought = frozenset({"balance_db"})
    for facts, stage in _mixers(analysis, alone):
        yield from _read(MIXERS, _MIXER, facts, stage, analysis.project.stage(stage).name, sought)


def _of_audio(analysis: Analysis, alone: str = "") -> Iterator[Item]:
    band = analysis.project.bands[0].name
    for row in _rows(analysis, alone):
        if not isinstance(row.design, AudioDesign):
            continue
        facts = audio_facts(analysis, analysis.project.stage(row.stage), band)
        if not isinstance(facts, Unsolved):
            yield from _read(AUDIO_STAGE, _AUDIO, facts, row.stage, row.name, _SOUGHT)


def _of_power(analysis: Analysis, alone: str = "") -> Iterator[Item]:
    for row in _rows(analysis, alone):
        if not isinstance(row.design, PowerDesign):
            continue
        found = output(row.design)
        if isinstance(found, Unsolved):
            continue
        of = _Powered(row.design, _Full(found))
        yield from _read(POWER, _POWER, of, row.stage, row.name, frozenset())
        stage = analysis.project.stage(row.stage)
        read = kind_of(stage).readings(stage, "transmit")
        for band in analysis.project.bands:
            there = at(row.design, band.centre_hz)
            if isinstance(there, Unsolved):
                continue
            # What its driver gives it is a level of the path, and read there.
            on = OnBand(band=band.name, there=there, has_dbm=float("nan"))
            for each in _read(ON_BANDS, _POWER_ON, on, row.stage, row.name, _SOUGHT, band=band.name):
                yield replace(each, value=read[each.key]) if each.key in read else each


@record
class _Full:
    """A power amplifier at full drive, without its mismatch and heat, which take long."""

    output: Output


@record
class _Powered:
    """What the figures of a power amplifier are got from that can be read."""

    design: PowerDesign
    working: _Full


#: What makes the figures of stages; each of all of them, or of one `alone`.
_OF_STAGES = (_of_filters, _of_amplifiers, _of_mixers, _of_audio, _of_power)


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
    for chain in speech_on(analysis):
        name = {"receive": "Receiver", "transmit": "Transmitter"}[chain.way]
        yield from _read(SPEECH, _SPEECH, chain, "", name, _SOUGHT, way=chain.way, band=chain.band)
    for heard in sound_of(analysis):
        yield from _read(SOUND, _SOUND, heard, "", "Receiver", _SOUGHT, way="receive")


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
