"""The VFO's figures as the rows of a table."""

from collections.abc import Iterator

from app.pictures.told import Line, line, said
from core.model.project import Project
from core.model.values.notation import format_value, signed
from core.rig import tuning
from core.rig.figures.figure import keyed
from core.rig.figures.levels import DRIVE
from core.rig.figures.vfo import VFO, VfoOn
from core.rig.levels.oscillator_drive import Drive, bare_dbm
from core.stages.outcome import Unsolved
from core.stages.vfo.compensation import Compensation
from core.stages.vfo.tank import TankDesign

_, _WANTS, _GETS, _MISSING = DRIVE


def vfo_lines(made: TankDesign, of: VfoOn, compensation: Compensation | Unsolved) -> Iterator[Line]:
    """Each figure of a band, and what was fixed and found."""
    figure, device = keyed(VFO), tuning.device(made)
    yield line(figure["wanted"], of)
    yield said(
        figure["covers"].title,
        figure["covers"].text(of) + ("" if of.cover.covers else ", too little"),
        tip=figure["covers"].tip,
    )
    yield said("found", "; ".join(made.found) or "nothing: all parts are given")
    yield said("fixed", "; ".join(made.fixed))
    for key in _RATES:
        yield line(figure[key], of)
    current = format_value(device.current_a, "A", 2)
    yield said("device", f"{device.name} at {current}, {1e3 * device.transconductance_s:.3g} mS")
    yield line(figure["start"], of)
    yield said("compensation", _compensation(compensation))


#: Figures of the dial and of what drifts, in this order.
_RATES = (
    "worst_hz_per_turn",
    "least_hz_per_turn",
    "turns",
    "scale_error_hz",
    "drift_hz_per_degree",
    "drift_ppm_per_degree",
    "worst_drift_hz_per_degree",
    "warm_up",
)


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


def drive_lines(project: Project, drives: tuple[Drive, ...]) -> Iterator[Line]:
    """What the mixers want of the VFO and get, and what the oscillator gives without its buffer."""
    for drive in drives:
        if drive.oscillator == "vfo":
            wants = f"wants {_WANTS.text(drive)}, gets {_GETS.text(drive)}"
            short = f"; a buffer of {_MISSING.text(drive)} more" if drive.missing_db > 0.5 else ""
            yield said(f"drive of {drive.name}", wants + short, tip="\n".join((_WANTS.tip, _GETS.tip)))
    gain = project.vfo.amplifier_gain_db
    bare = signed(bare_dbm(project, "vfo"), 0, "dBm")
    own = "no buffer" if gain is None else f"buffer of {gain:.0f} dB"
    yield said("oscillator itself", f"{bare}, {own}")
