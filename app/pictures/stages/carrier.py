"""The carrier oscillator: where each sideband's carrier lies, how its crystal gets there, what it drives."""

from dataclasses import dataclass

from app.pictures.response import ResponsePicture
from app.pictures.stages import pull
from app.pictures.stages.pull import PullPicture
from app.pictures.stages.speech import audio_of
from app.state.look import Look
from app.style import words
from core.model.project import Project
from core.model.values.notation import format_value, signed
from core.rig.analysis import Analysis
from core.rig.levels import oscillator_drive
from core.rig.levels.oscillator_drive import Drive
from core.rig.plan.frequency_plan import sideband_at_if
from core.rig.rows import CarrierRow
from core.stages.outcome import Unsolved

#: Digits that a solved coil is written with: coils are wound, not calculated, to better.
COIL_DIGITS = 3

_Rows = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CarrierPicture:
    """Everything the view shows; `short`: a mixer gets less than it wants."""

    band: str
    pull: PullPicture | str
    audio: ResponsePicture | str
    heads: tuple[str, ...]
    carriers: _Rows
    bands: _Rows
    drives: _Rows
    level: str
    short: bool


def picture_of(analysis: Analysis, held: Analysis | None, look: Look) -> CarrierPicture | Unsolved:
    """What there is to show of the carrier oscillator, or why there is nothing."""
    project, rows, ladder = analysis.project, analysis.carriers, analysis.ladder
    if not rows or ladder is None:
        place = analysis.carrier(look.band)
        return place if isinstance(place, Unsolved) else Unsolved("No band uses the carrier.")
    drives = tuple(drive for drive in analysis.drives if drive.oscillator == "carrier")
    return CarrierPicture(
        band=words.band(look.band),
        pull=pull.picture_of(analysis),
        audio=audio_of(analysis, held, ladder, look),
        heads=("at the IF", *(row.sideband for row in rows)),
        carriers=tuple(_carrier_rows(rows, project)),
        bands=tuple(_band_rows(analysis)),
        drives=tuple(_drive_rows(drives)),
        level=_level(project),
        short=any(each.missing_db > 0 for each in drives),
    )


BAND_HEADS = ("band", "on air", "scheme", "turned", "carrier")
DRIVE_HEADS = ("mixer", "wants", "gets", "missing")


def _mhz(value_hz: float) -> str:
    return f"{value_hz / 1e6:.6f} MHz"


def _carrier_rows(rows: tuple[CarrierRow, ...], project: Project) -> list[tuple[str, ...]]:
    """One figure a row, one sideband a column."""

    def line(name: str, *texts: str) -> tuple[str, ...]:
        return (name, *texts)

    def down(value: float) -> str:
        return f"{value:.0f} dB down"

    balance = project.carrier.balance_db
    return [
        line("bands", *(", ".join(words.band(name) for name in row.bands) for row in rows)),
        line("carrier", *(_mhz(row.place.frequency_hz) for row in rows)),
        line("lies", *(f"{row.place.side} the filter" for row in rows)),
        line("lowest tone, −6 dB", *(_tone(row.place.lowest_audio_hz) for row in rows)),
        line("series coil", *(_coil(row, project) for row in rows)),
        line("trimmer", *(_trimmer(row) for row in rows)),
        line("trimmer reaches", *(_reach(row) for row in rows)),
        line("carrier at the ladder", *(down(row.place.suppression_db) for row in rows)),
        line("with the modulator", *(down(row.place.suppression_db + balance) for row in rows)),
        line("other sideband, 300 Hz", *(down(row.place.unwanted_sideband_300hz_db) for row in rows)),
        line("other sideband, 1 kHz", *(down(row.place.unwanted_sideband_1khz_db) for row in rows)),
        line("other sideband, 2 kHz", *(down(row.place.unwanted_sideband_2khz_db) for row in rows)),
    ]


def _tone(value_hz: float | None) -> str:
    return "-" if value_hz is None else f"{value_hz:.0f} Hz"


def _coil(row: CarrierRow, project: Project) -> str:
    if row.pulling is None:
        return "no crystal"
    told = "none" if row.pulling.coil_h == 0 else format_value(row.pulling.coil_h, "H", COIL_DIGITS)
    return told if project.carrier.coil_h is not None else f"{told}, automatic"


def _trimmer(row: CarrierRow) -> str:
    if row.pulling is None:
        return "-"
    return "out of reach" if row.pulling.trimmer_f is None else format_value(row.pulling.trimmer_f, "F", 3)


def _reach(row: CarrierRow) -> str:
    if row.pulling is None:
        return "-"
    low, high = row.pulling.reachable_low_hz, row.pulling.reachable_high_hz
    if high == 0:
        return "nothing: the coil is too large"
    if low == 0:
        return f"up to {high / 1e6:.4f} MHz"
    return f"{low / 1e6:.4f} to {high / 1e6:.4f} MHz"


def _band_rows(analysis: Analysis) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for band, plan in zip(analysis.project.bands, analysis.frequency_plan, strict=True):
        place = analysis.carrier(band.name)
        rows.append(
            (
                words.band(band.name),
                band.sideband,
                words.choice(band.scheme),
                f"to {sideband_at_if(band)}" if plan.sideband_inverted else "no",
                "nowhere" if isinstance(place, Unsolved) else place.side,
            )
        )
    return rows


def _drive_rows(drives: tuple[Drive, ...]) -> list[tuple[str, ...]]:
    return [
        (
            each.name,
            signed(each.wanted_dbm, 0, "dBm"),
            signed(each.delivered_dbm, 0, "dBm"),
            f"{each.missing_db:.0f} dB" if each.missing_db > 0 else "nothing",
        )
        for each in drives
    ]


def _level(project: Project) -> str:
    """What the oscillator itself must give, in words."""
    bare = signed(oscillator_drive.bare_dbm(project, "carrier"), 0, "dBm")
    gain = project.carrier.amplifier_gain_db
    behind = (
        "without an amplifier of its own" if not gain else f"with {gain:.0f} dB of its own amplifier behind"
    )
    return f"The oscillator itself gives {bare}, {behind}."
