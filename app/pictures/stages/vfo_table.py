"""The VFO's figures as the rows of a table."""

from core.model.project import Project
from core.model.values.notation import format_value, signed
from core.rig import tuning
from core.rig.levels.oscillator_drive import Drive, bare_dbm
from core.stages.outcome import Unsolved
from core.stages.vfo.compensation import Compensation
from core.stages.vfo.tank import TankDesign
from core.stages.vfo.vfo import VfoFigures


def vfo_rows(
    made: TankDesign, found: VfoFigures, compensation: Compensation | Unsolved
) -> list[tuple[str, str]]:
    """Name and value of each figure of a band."""
    cover, of, worst = found.cover, found.dial, found.worst_drift
    warm = tuning.warm_up(made, worst.hz_per_k)
    short = "" if cover.covers else ", too little"
    ends = " and ".join(signed(d.hz_per_k, 0) for d in found.drift)
    ppm = " and ".join(signed(d.ppm_per_k, 1) for d in found.drift)
    most, least = of.worst_hz_per_turn / 1e3, of.least_hz_per_turn / 1e3
    device = tuning.device(made)
    current = format_value(device.current_a, "A", 2)
    rows = [
        ("wanted", _range(cover.wanted_low_hz, cover.wanted_high_hz)),
        ("covered", _range(cover.covers_low_hz, cover.covers_high_hz) + short),
        ("found", "; ".join(made.found) or "nothing: all parts are given"),
        ("fixed", "; ".join(made.fixed)),
        ("tuning, most and least", f"{most:.3g} and {least:.3g} kHz a turn"),
        ("turns over the band", f"{of.turns_used:.3g}"),
        ("scale printed evenly", f"up to {of.worst_scale_error_hz / 1e3:.3g} kHz off"),
        ("drift, low and high end", f"{ends} Hz/K ({ppm} ppm/K)"),
        ("drift, worst case", f"{max(d.worst_hz_per_k for d in found.drift):.0f} Hz/K"),
        ("first 20 min, hour after", f"{abs(warm.first_hz):.0f} Hz, {abs(warm.next_hour_hz):.0f} Hz"),
        ("device", f"{device.name} at {current}, {1e3 * device.transconductance_s:.3g} mS"),
        ("start-up, low and high end", " and ".join(f"{s:.2g}" for s in found.start) + " times the loss"),
    ]
    rows.append(("compensation", _compensation(compensation)))
    return rows


def _compensation(found: Compensation | Unsolved) -> str:
    if isinstance(found, Unsolved):
        return found.reason
    left = f"leaves {signed(found.left_hz_per_k, 0)} Hz/K at the worst place of any band"
    if found.differential_share is not None:
        setting = f"the differential capacitor at {100 * found.differential_share:.0f} % {left}"
        return f"{setting}, as it is set" if found.fitted else setting
    value = format_value(found.preferred_f, "F", 3)
    if found.fitted:
        return f"{value} of {found.type} is fitted and {left}"
    return f"{format_value(found.needed_f, 'F', 3)} of {found.type} would be best; {value} {left}"


def _range(low_hz: float, high_hz: float) -> str:
    return f"{low_hz / 1e6:.4f} to {high_hz / 1e6:.4f} MHz"


def drive_rows(project: Project, drives: tuple[Drive, ...]) -> list[tuple[str, str]]:
    """What the mixers want of the VFO and get, and what the oscillator gives without its buffer."""
    rows = []
    for drive in drives:
        if drive.oscillator == "vfo":
            wants = f"wants {signed(drive.wanted_dbm, 0)} dBm, gets {signed(drive.delivered_dbm, 0)} dBm"
            short = f"; a buffer of {drive.missing_db:.0f} dB more" if drive.missing_db > 0.5 else ""
            rows.append((f"drive of {drive.name}", wants + short))
    gain = project.vfo.amplifier_gain_db
    bare = signed(bare_dbm(project, "vfo"), 0, "dBm")
    own = "no buffer" if gain is None else f"buffer of {gain:.0f} dB"
    rows.append(("oscillator itself", f"{bare}, {own}"))
    return rows
