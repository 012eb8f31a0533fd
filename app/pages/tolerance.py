"""Tolerance: what scattered parts make of the ladder, how many come out good, and which part matters."""

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from app.forms import Form
from app.plain import Text
from app.plots.base import Card, Plot, Shape, Shapes, finite
from app.plots.histogram import HistogramPlot
from app.plots.response import FLOOR_DB
from app.tasks import Failed, Job, Tasks
from app.view import View
from app.workbench import Workbench
from core.model.bench import Scatter
from core.model.filters import LadderFilter
from core.model.notation import format_value
from core.stages import tolerance
from core.stages.outcome import Unsolved
from core.stages.tolerance import Limits, Spreads, ToleranceRun

#: What a run was made from: it is current while these are the same.
_Source = tuple[LadderFilter, float, tuple[float, ...], Scatter]


class TolerancePage(View):
    """Scatter and limits on the left; envelope, widths and verdict on the right."""

    def __init__(self, bench: Workbench, tasks: Tasks) -> None:
        super().__init__()
        self._bench, self._tasks = bench, tasks
        self.form = Form(Scatter, bench)
        self.start = QPushButton("Try the parts")
        self.start.clicked.connect(self.run)
        self.stop = QPushButton("Give up")
        self.stop.clicked.connect(self._give_up)
        self.progress = QProgressBar()
        self.progress.setRange(0, 100)
        self.progress.setAccessibleName("Progress of the tolerance run")
        self.verdict = Text()
        self.verdict.setWordWrap(True)
        self.envelope = Plot("frequency", "MHz", "response", "dB")
        self.corridor = Shapes(self.envelope)
        self.nominal = self.envelope.curve("curve")
        self.widths = HistogramPlot("−6 dB width", "kHz")
        self.ripples = HistogramPlot("ripple", "dB")
        self.losses = HistogramPlot("loss", "dB")
        self._lay_out()
        self._source: _Source | None = None
        self._run: ToleranceRun | None = None
        self._show_nothing("Nothing tried yet: set how far the parts scatter, then press “Try the parts”.")
        self._show_running(False)

    def _lay_out(self) -> None:
        inside = QWidget()
        inside.setProperty("look", "ground")
        left = QVBoxLayout(inside)
        left.setContentsMargins(0, 0, 6, 0)
        left.addWidget(self.form)
        row = QHBoxLayout()
        row.addWidget(self.start)
        row.addWidget(self.stop)
        row.addStretch(1)
        left.addLayout(row)
        left.addWidget(self.progress)
        left.addWidget(self.verdict)
        left.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(inside)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setMinimumWidth(inside.minimumSizeHint().width() + area.verticalScrollBar().sizeHint().width())
        pictures = QWidget()
        pictures.setProperty("look", "ground")
        grid = QGridLayout(pictures)
        grid.setContentsMargins(0, 0, 0, 0)
        for title, plot, where in (
            ("Nine filters in ten lie in the corridor", self.envelope, (0, 0, 1, 2)),
            ("How wide they come out; shaded: keeps the limits", self.widths, (1, 0, 1, 2)),
            ("Ripple", self.ripples, (2, 0, 1, 1)),
            ("Loss", self.losses, (2, 1, 1, 1)),
        ):
            card = Card(title, plot)
            # A title that may wrap would make the scroll area give every picture its preferred height.
            card.heading.setWordWrap(False)
            grid.addWidget(card, *where)
        for place, (least, share) in enumerate(((190, 4), (150, 3), (150, 3))):
            grid.setRowMinimumHeight(place, least)
            grid.setRowStretch(place, share)
        # A small window scrolls; squeezed histograms tell nothing.
        right = QScrollArea()
        right.setWidgetResizable(True)
        right.setWidget(pictures)
        whole = QSplitter(Qt.Orientation.Horizontal)
        whole.setChildrenCollapsible(False)
        whole.addWidget(Card("Scatter and limits", area))
        whole.addWidget(right)
        whole.setStretchFactor(0, 2)
        whole.setStretchFactor(1, 3)
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.addWidget(whole)

    @property
    def result(self) -> ToleranceRun | None:
        """The last run's result."""
        return self._run

    def refresh(self, bench: Workbench) -> None:
        self.form.show_model(bench.current.scatter, ("scatter",))
        self.start.setEnabled(bench.analysis.ladder is not None)
        if self._run is not None:
            self._show_verdict()

    def restyle(self) -> None:
        for plot in (self.envelope, self.widths, self.ripples, self.losses):
            plot.restyle()
        if self._run is not None:
            self._show_run(self._run)

    def run(self) -> None:
        """Try scattered parts for the present design; a run that is under way is given up."""
        source = self._present()
        if source is None:
            self._show_nothing("There is no ladder filter in the path; add one.")
            return
        ladder, if_hz, on_hand, scatter = source
        spreads = Spreads(scatter.capacitor_tolerance, scatter.crystal_hz, scatter.q_spread)

        def work(job: Job) -> ToleranceRun | Unsolved | None:
            def watch(done: float) -> bool:
                job.progress(done)
                return not job.cancelled

            return tolerance.run(ladder, if_hz, spreads, trials=scatter.trials, on_hand=on_hand, watch=watch)

        self._show_running(True)
        self._tasks.start("tolerance", work, lambda result: self._done(source, result), self._progressed)

    def _present(self) -> _Source | None:
        ladder = self._bench.analysis.ladder
        if ladder is None:
            return None
        project = self._bench.current
        return ladder, project.if_hz, self._bench.analysis.on_hand(ladder), project.scatter

    def _progressed(self, done: float) -> None:
        self.progress.setValue(round(100 * done))

    def _give_up(self) -> None:
        self._tasks.cancel("tolerance")
        self._show_running(False)

    def _show_running(self, running: bool) -> None:
        self.stop.setEnabled(running)
        self.progress.setVisible(running)
        self.progress.setValue(0)

    def _show_nothing(self, sentence: str) -> None:
        self._run = None
        self.envelope.say(sentence)
        for plot in (self.widths, self.ripples, self.losses):
            plot.say(sentence)
        self.verdict.setText("")

    def _done(self, source: _Source, result: "ToleranceRun | Unsolved | Failed | None") -> None:
        self._show_running(False)
        if isinstance(result, Unsolved | Failed):
            self._show_nothing(result.reason)
        elif result is not None:
            self._source, self._run = source, result
            self._show_run(result)
            self._show_verdict()

    def _show_run(self, run: ToleranceRun) -> None:
        self.envelope.say("")
        x = run.f_hz / 1e6
        best, worst = finite(-run.low_db, FLOOR_DB), finite(-run.high_db, FLOOR_DB)
        outline = [*zip(x, best, strict=True), *reversed(list(zip(x, worst, strict=True)))]
        self.corridor.show_shapes(
            [Shape(tuple((float(a), float(b)) for a, b in outline), "corridor", "rule")]
        )
        self.nominal.setData(x, finite(-run.nominal_db, FLOOR_DB))
        self.envelope.frame((float(x[0]), float(x[-1])), (-70.0, 4.0), "envelope")
        self.widths.show_distribution(tolerance.distribution(run.width_hz), 1e-3)
        self.ripples.show_distribution(tolerance.distribution(run.ripple_db))
        self.losses.show_distribution(tolerance.distribution(run.loss_db))

    def _show_verdict(self) -> None:
        run, source = self._run, self._source
        assert run is not None  # callers have checked
        assert source is not None
        scatter = self._bench.current.scatter
        limits = Limits(scatter.width_low_hz, scatter.width_high_hz, scatter.ripple_db, scatter.loss_db)
        self.widths.show_limits(scatter.width_low_hz, scatter.width_high_hz)
        self.ripples.show_limits(None, scatter.ripple_db)
        self.losses.show_limits(None, scatter.loss_db)
        width = run.width_hz[np.isfinite(run.width_hz)]
        ripple = run.ripple_db[np.isfinite(run.ripple_db)]
        matters = ", ".join(f"{ref} {100 * share:.0f} %" for ref, share in run.shares[:4] if share > 0.01)
        lines = [f"{100 * run.good(limits):.0f} % of {run.width_hz.size} filters keep every limit."]
        if width.size:
            low, high = (format_value(float(v), "Hz", 3) for v in np.percentile(width, [5, 95]))
            lines.append(
                f"Width {low} to {high} in nine of ten; ripple {np.median(ripple):.1f} dB in the middle."
            )
        if matters:
            lines.append(f"The width's scatter comes most from {matters}.")
        if not self._is_current(source):
            lines.append("This is for an earlier design or scatter: try the parts again.")
        self.verdict.setText("\n".join(lines))

    def _is_current(self, source: _Source) -> bool:
        now = self._present()
        if now is None:
            return False
        # Limits are judged anew on the same trials; everything else asks for another run.
        return source[:3] == now[:3] and _drawn_from(source[3]) == _drawn_from(now[3])


def _drawn_from(scatter: Scatter) -> tuple[float, float, float, int]:
    return scatter.capacitor_tolerance, scatter.crystal_hz, scatter.q_spread, scatter.trials
