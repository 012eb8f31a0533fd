"""The carrier oscillator: where each sideband's carrier lies, how its crystal gets there, what it drives."""

from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from app import palette, words
from app.figure_table import FigureTable
from app.plain import Text
from app.plots.pull import Pull, PullPlot
from app.plots.response import ResponsePlot
from app.stage_views.base import StageView
from app.stage_views.speech import draw_audio, speech_of
from app.workbench import Workbench
from core.model.notation import format_value, signed
from core.model.project import Project
from core.rig import oscillator_drive
from core.rig.analysis import Analysis
from core.rig.frequency_plan import sideband_at_if
from core.rig.oscillator_drive import Drive
from core.rig.rows import CarrierRow
from core.stages.outcome import Unsolved

#: Digits that a solved coil is written with: coils are wound, not calculated, to better.
_COIL_DIGITS = 3


class CarrierView(StageView):
    """Four cards: frequency against trimmer, speech, the figures a column a sideband, bands and drive."""

    def __init__(self) -> None:
        super().__init__()
        self._bench: Workbench | None = None
        self.pull = PullPlot()
        self.audio = ResponsePlot("audio as heard", "tone", "Hz")
        self.table = FigureTable(wrapped=True)
        self.bands = FigureTable(wrapped=True, fitted=True)
        self.drive = FigureTable(wrapped=True, fitted=True)
        self.solve = QPushButton("Solve coil and trimmer")
        self.solve.setProperty("look", "small")
        self.solve.setToolTip(
            "Writes the coil that brings the carrier of the band looked at to the middle of its trimmer"
        )
        self.solve.clicked.connect(self._solve)
        self.amplify = QPushButton("Add the missing gain")
        self.amplify.setToolTip("Raises output and own amplifier alike; the oscillator itself stays as it is")
        self.amplify.clicked.connect(self._amplify)
        self.level = Text()
        self.level.setWordWrap(True)
        self.level.setProperty("look", "soft")
        self.card("Pulled by its trimmer", self.pull, 0, 0)
        self._audio_card = self.card("Audio as heard", self.audio, 0, 1)
        self.card("Carrier", self.table, 1, 0, corner=self.solve)
        self.card("Bands, and the drive of the mixers", self._beside(), 1, 1)

    def _beside(self) -> QWidget:
        made = QWidget()
        column = QVBoxLayout(made)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.bands)
        column.addWidget(self.drive)
        column.addWidget(self.level)
        row = QHBoxLayout()
        row.addWidget(self.amplify)
        row.addStretch(1)
        column.addLayout(row)
        column.addStretch(1)
        return made

    def refresh(self, bench: Workbench) -> str:
        self._bench = bench
        analysis, project = bench.analysis, bench.current
        rows, band = analysis.carriers, bench.band_name
        if not rows:
            return getattr(analysis.carrier(band), "reason", "No band uses the carrier.")
        drives = tuple(d for d in analysis.drives if d.oscillator == "carrier")
        ladder = analysis.ladder
        assert ladder is not None  # without one no carrier has a place
        speech = speech_of(bench, ladder)
        crystal = project.carrier.crystal or ladder.crystal
        pull = Pull(crystal, project.if_hz, project.carrier, rows)
        if self.is_shown(speech, pull, project.bands, drives, palette.theme()):
            return ""
        heads = ("at the IF", *(row.sideband for row in rows))
        self.table.show_rows(heads, _carrier_rows(rows, project))
        self.bands.show_rows(_BAND_HEADS, _band_rows(analysis))
        self.drive.show_rows(_DRIVE_HEADS, _drive_rows(drives))
        self.level.setText(_level(project))
        self.amplify.setEnabled(any(each.missing_db > 0 for each in drives))
        self._audio_card.entitle(speech.audio_title)
        draw_audio(self.audio, speech)
        self.pull.show_pull(pull)
        return ""

    def _solve(self) -> None:
        if self._bench is None:
            return
        found = self._bench.analysis.solved_pulling(self._bench.band_name)
        if isinstance(found, Unsolved):
            return
        # Where no coil is wanted the field is emptied, for then the automatic one is none as well.
        coil = float(f"{found.coil_h:.{_COIL_DIGITS}g}") or None
        self._bench.edit(("carrier", "coil_h"), coil)

    def _amplify(self) -> None:
        if self._bench is not None:
            self._bench.change(
                lambda p: oscillator_drive.amplified(p, "carrier"), label="the carrier's own amplifier"
            )


_BAND_HEADS = ("band", "on air", "scheme", "turned", "carrier")
_DRIVE_HEADS = ("mixer", "wants", "gets", "missing")


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
    told = "none" if row.pulling.coil_h == 0 else format_value(row.pulling.coil_h, "H", _COIL_DIGITS)
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
