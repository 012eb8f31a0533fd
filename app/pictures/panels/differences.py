"""The held design against the present one, in figures."""

from dataclasses import dataclass

from app.style import words
from app.style.numbers import number_text
from core.model.values.notation import format_frequency, format_value, signed
from core.model.values.quantities import Unit
from core.rig.analysis import Analysis
from core.rig.read_out.schemes import Reading
from core.rig.rules import inspect
from core.stages.outcome import Unsolved
from core.stages.vfo.vfo import VfoFigures

_NONE = "none"


@dataclass(frozen=True, slots=True)
class Row:
    """One figure in both designs, as text."""

    name: str
    held: str
    now: str


def differences(held: Analysis, now: Analysis, band: str) -> tuple[Row, ...]:
    """The figures that differ between two designs on a band, in the order of the signal."""
    before, after = (figures(analysis, band) for analysis in (held, now))
    return tuple(
        Row(name, _without_unit(before.get(name, _NONE), after.get(name, _NONE)), after.get(name, _NONE))
        for name in dict.fromkeys((*before, *after))
        if before.get(name) != after.get(name)
    )


def _without_unit(text: str, other: str) -> str:
    """`text` without its unit, when `other` beside it has the same one."""
    number, space, unit = text.partition(" ")
    return number if space and other.partition(" ")[2] == unit else text


def figures(analysis: Analysis, band: str) -> dict[str, str]:
    """What a builder compares, by name: frequencies, bandwidths, receive and transmit figures of a band."""
    project = analysis.project
    found = {"IF": number_text(round(project.if_hz), Unit("Hz", scaled=True))}
    if all(each.name != band for each in project.bands):
        return found
    on = words.band(band)
    plan = analysis.band_plan(band)
    found["Carrier"] = format_frequency(plan.carrier_hz, 1)
    found[f"VFO from, {on}"] = format_frequency(plan.vfo_low_hz, 1000)
    found[f"VFO to, {on}"] = format_frequency(plan.vfo_high_hz, 1000)
    found[f"Image from, {on}"] = format_frequency(plan.image_low_hz, 1000)
    crossing = [s for s in analysis.spurs(band) if s.crosses and s.kind != "transmit"]
    lowest = min((s.order for s in crossing), default=None)
    found[f"First crossing, {on}"] = "none" if lowest is None else f"order {lowest}"
    for row in analysis.filters:
        if band not in row.bands or isinstance(row.figures, Unsolved):
            continue
        width = row.figures.bandwidth_6db_hz
        if width is not None:
            found[f"{row.name}, −6 dB"] = format_value(width, "Hz", 4)
        found[f"{row.name}, loss"] = format_value(row.figures.insertion_loss_db, "dB", 2)
    found |= _vfo_figures(analysis, band, on)
    receive, transmit = analysis.receive(band), analysis.transmit(band)
    found["Noise figure"] = format_value(receive.noise_figure_db, "dB", 3)
    found["MDS"] = f"{receive.mds_dbm:.1f} dBm".replace("-", "−")
    if receive.iip3_dbm is not None:
        found["Input intercept"] = f"{receive.iip3_dbm:.1f} dBm".replace("-", "−")
    found["Noise at the ear"] = format_value(receive.speaker_noise_db_spl, "dB SPL", 2)
    found["Output"] = format_value(transmit.output_w, "W", 2)
    faults = sum(finding.severity == "fault" for finding in inspect(analysis))
    found["Faults"] = str(faults)
    return found


def _vfo_figures(analysis: Analysis, band: str, on: str) -> dict[str, str]:
    """The VFO's figures and what the read-out stores on a band."""
    found = {}
    of = analysis.vfo_on(band)
    if isinstance(of, VfoFigures):
        found[f"VFO covers from, {on}"] = format_frequency(of.cover.covers_low_hz, 1000)
        found[f"VFO covers to, {on}"] = format_frequency(of.cover.covers_high_hz, 1000)
        found["Tuning, most"] = f"{of.dial.worst_hz_per_turn / 1e3:.3g} kHz/turn"
        found["Drift"] = signed(of.worst_drift.hz_per_k, 0, "Hz/K")
        found["Start-up"] = f"{min(of.start):.2g} times"
    row = analysis.read_out.of(band) if analysis.read_out else None
    if row is not None and isinstance(row.reading, Reading):
        found[f"Stored, {on}"] = format_frequency(row.reading.offset_hz, 1)
    return found
