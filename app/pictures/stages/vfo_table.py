"""The VFO's figures as the rows of a table."""

from collections.abc import Iterator

from app.pictures.told import Line, composed, line, said
from core.rig import tuning
from core.rig.analysis import Analysis
from core.rig.figures.figure import by_key, keyed
from core.rig.figures.levels import BARE, DRIVE, OWN_GAIN, OscillatorOf
from core.rig.figures.mixers import BEHIND, behind_oscillators
from core.rig.figures.vfo import COMPENSATION, DEVICE, SOLVED, VFO, VfoOn
from core.stages.outcome import Unsolved
from core.stages.vfo.compensation import Compensation
from core.stages.vfo.tank import TankDesign

_, _WANTS, _GETS, _MISSING = DRIVE
_GIVES, _IN_HAND = by_key(BEHIND, "output_dbm", "in_hand_db")


def vfo_lines(made: TankDesign, of: VfoOn, compensation: Compensation | Unsolved) -> Iterator[Line]:
    """Each figure of a band, and what was fixed and found."""
    figure, device = keyed(VFO), tuning.device(made)
    yield line(figure["wanted"], of)
    yield said(
        figure["covers"].title,
        figure["covers"].text(of) + ("" if of.cover.covers else ", too little"),
        tip=figure["covers"].tip,
    )
    for each in SOLVED:
        yield line(each, made)
    for key in _RATES:
        yield line(figure[key], of)
    name, current, conducts = DEVICE
    told = f"{name.text(device)} at {current.text(device)}, {conducts.text(device)}"
    yield composed("device", told, current, conducts)
    yield line(figure["start"], of)
    yield composed("compensation", _compensation(compensation), *COMPENSATION)


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
    needed, preferred, remains, differential = (figure.text(found) for figure in COMPENSATION)
    left = f"leaves {remains} at the worst place of any band"
    if found.differential_share is not None:
        setting = f"the differential capacitor at {differential} {left}"
        return f"{setting}, as it is set" if found.fitted else setting
    if found.fitted:
        return f"{preferred} of {found.type} is fitted and {left}"
    return f"{needed} of {found.type} would be best; {preferred} {left}"


def drive_lines(analysis: Analysis) -> Iterator[Line]:
    """What the mixers want of the VFO and get, and what the oscillator gives without its buffer."""
    for drive in analysis.drives:
        if drive.oscillator == "vfo":
            wants = f"wants {_WANTS.text(drive)}, gets {_GETS.text(drive)}"
            short = (
                f"; a buffer of {_MISSING.text(drive)} more"
                if drive.missing_db > 0 and not drive.suits
                else ""
            )
            yield composed(f"drive of {drive.name}", wants + short, _WANTS, _GETS)
    for each in behind_oscillators(analysis):
        if each.oscillator == "VFO":
            gives = f"gives {_GIVES.text(each)}, {_IN_HAND.text(each)} in hand"
            yield composed(each.step.name, gives, _GIVES, _IN_HAND)
    of = OscillatorOf(analysis.project, "vfo")
    own = "no buffer" if OWN_GAIN.get(of) is None else f"buffer of {OWN_GAIN.text(of)}"
    yield composed("oscillator itself", f"{BARE.text(of)}, {own}", BARE, OWN_GAIN)
