"""Amplifiers, mixers and pads: the block's figures and the levels at it."""

from app import words
from app.figure_table import FigureTable
from app.stage_views.base import StageView
from app.workbench import Workbench
from core.model.notation import format_value
from core.rig.analysis import Analysis


class BlockView(StageView):
    """One card: the figures."""

    def __init__(self) -> None:
        super().__init__()
        self.table = FigureTable()
        self._card = self.card("Figures", self.table, 0, 0)

    def refresh(self, bench: Workbench) -> str:
        analysis, band, way, stage = bench.analysis, bench.band_name, bench.way, bench.selected_stage
        assert stage is not None  # what this view is chosen for
        blocks = analysis.blocks(band, way, bench.dial_hz)
        place = next((n for n, block in enumerate(blocks) if block.stage == stage.id), None)
        if place is None:
            return f"{stage.name} is switched out of the path; switch it in to see its levels."
        # Texts are set only where they differ, so there is nothing to remember.
        self._card.entitle(f"{stage.name} on {words.band(band)}, {words.way(way).lower()}")
        self.table.show_rows(("figure", "value"), _block_rows(analysis, band, way, bench.dial_hz, place))
        return ""


def _block_rows(analysis: Analysis, band: str, way: str, dial_hz: float, place: int) -> list[tuple[str, str]]:
    def dbm(value: float | None) -> str:
        return "-" if value is None else format_value(float(value), "dBm", 4)

    block = analysis.blocks(band, "receive" if way == "receive" else "transmit", dial_hz)[place]
    rows = [
        ("gain", format_value(block.gain_db, "dB", 3)),
        ("noise figure", format_value(block.noise_figure_db, "dB", 3)),
        ("third-order intercept, input", dbm(block.iip3_dbm)),
        ("1 dB compression, output", dbm(block.p1db_out_dbm)),
    ]
    if way == "receive":
        r = analysis.receive(band, dial_hz)
        rows += [
            ("S9 at its output", dbm(r.s9_dbm[place + 1])),
            ("S9 + 40 dB at its output", dbm(r.strong_dbm[place + 1])),
            ("band noise at its output", dbm(r.band_noise_levels_dbm[place + 1])),
            ("own noise at its output", dbm(r.own_noise_dbm[place + 1])),
        ]
        headroom = r.headroom_db[place]
        rows.append(("headroom at S9 + 40 dB", "-" if headroom is None else format_value(headroom, "dB", 3)))
    else:
        t = analysis.transmit(band, dial_hz)
        headroom = t.headroom_db[place]
        rows += [
            ("level at its input, speech peaks", dbm(t.level_dbm[place])),
            ("level at its output, speech peaks", dbm(t.level_dbm[place + 1])),
            ("headroom", "-" if headroom is None else format_value(headroom, "dB", 3)),
        ]
    return rows
