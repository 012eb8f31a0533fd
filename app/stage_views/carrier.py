"""The carrier oscillator: where each sideband's carrier must lie, and how its crystal gets there."""

from app import palette, words
from app.figure_table import FigureTable
from app.plots.pull import PullPlot
from app.stage_views.base import StageView
from app.workbench import Workbench
from core.model.notation import format_value


class CarrierView(StageView):
    """Two cards: frequency against trimmer, and the figures."""

    def __init__(self) -> None:
        super().__init__()
        self.pull = PullPlot()
        self.table = FigureTable()
        self.card("The carrier's crystal, pulled by its trimmer", self.pull, 0, 0)
        self.card("Carrier: where it must lie, and how it gets there", self.table, 1, 0)

    def refresh(self, bench: Workbench) -> str:
        analysis, project = bench.analysis, bench.current
        rows = analysis.carriers
        if not rows:
            band = bench.band_name
            return getattr(analysis.carrier(band), "reason", "No band uses the carrier.")
        if self.is_shown(rows, project.carrier, project.if_hz, palette.theme()):
            return ""
        texts = []
        for row in rows:
            name = f"{row.sideband} at the IF ({', '.join(words.band(n) for n in row.bands)})"
            texts.append((name, f"{row.place.frequency_hz / 1e6:.6f} MHz"))
            if row.pulling is not None:
                p = row.pulling
                coil = "none" if p.coil_h == 0 else format_value(p.coil_h, "H", 3)
                trimmer = "out of reach" if p.trimmer_f is None else format_value(p.trimmer_f, "F", 3)
                texts += [
                    ("   series coil, trimmer", f"{coil}, {trimmer}"),
                    ("   reach", f"{p.reachable_low_hz / 1e6:.6f} to {p.reachable_high_hz / 1e6:.6f} MHz"),
                ]
            total = row.place.suppression_db + project.carrier.balance_db
            texts += [
                ("   carrier suppression, with the modulator", format_value(total, "dB", 3)),
                ("   other sideband at 1 kHz", f"{row.place.unwanted_sideband_1khz_db:.0f} dB down"),
            ]
        self.table.show_rows(("figure", "value"), texts)
        self.pull.show_rows(rows, project)
        return ""
