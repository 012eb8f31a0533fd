"""Tolerance: what scattered parts make of a filter, how many come out good, and which part matters."""

from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.panels.forms import Form
from app.pictures.figures import Shape
from app.pictures.response import FLOOR_DB, finite
from app.plots.base import Card, Plot, Shapes
from app.plots.histogram import HistogramPlot
from app.state.tasks import Failed, Job, Tasks
from app.state.workbench import Workbench
from app.style import words
from app.style.plain import Text
from app.widgets.choice_box import ChoiceBox
from app.widgets.folding import Folding
from app.widgets.view import View
from core.model.bench import LADDERS_ALONE, Scatter
from core.model.values.notation import format_value
from core.rig import scattered
from core.rig.scattered import Scatterable
from core.stages.outcome import Unsolved
from core.stages.tolerance import ToleranceRun

#: The part of a scatter that a run is made from; limits are judged anew on the same trials.
_LIMITS = {"width_low_hz", "width_high_hz", "ripple_db", "loss_db"}


@dataclass(frozen=True)
class _Source:
    """What a run was made from: it is current while this is the same."""

    tried: Scatterable
    scatter: Scatter

    def is_current(self, now: "_Source | None") -> bool:
        if now is None or self.tried != now.tried:
            return False
        return self.scatter.model_dump(exclude=_LIMITS) == now.scatter.model_dump(exclude=_LIMITS)


def _title(tried: Scatterable) -> str:
    bands = ", ".join(words.band(name) for name in tried.bands)
    return f"{tried.name}, {bands}" if bands else tried.name


#: The page scrolls before its parts get too low to read, side by side and below one another, pixels.
_LEAST_HEIGHT, _STACKED_HEIGHT = 400, 1000


class TolerancePage(View):
    """Filter, scatter and limits on the left; envelope, figures and verdict on the right."""

    def __init__(self, bench: Workbench, tasks: Tasks) -> None:
        super().__init__()
        self._bench, self._tasks = bench, tasks
        self.choice = ChoiceBox(least=24)
        self.choice.setAccessibleName("Filter")
        self.choice.setToolTip("The filter that is tried many times with other parts")
        self.choice.activated.connect(lambda _: self._choose())
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
        #: A histogram for each figure that a run measures, the one that matters most first.
        self.figures = tuple(HistogramPlot() for _ in range(3))
        self.cards: tuple[Card, ...] = ()
        self._lay_out()
        self._choices: tuple[Scatterable, ...] = ()
        self._source: _Source | None = None
        self._run: ToleranceRun | None = None
        self._show_nothing("Nothing tried yet: set how far the parts scatter, then press “Try the parts”.")
        self._show_running(False)

    def _lay_out(self) -> None:
        inside = QWidget()
        inside.setProperty("look", "ground")
        left = QVBoxLayout(inside)
        left.setContentsMargins(0, 0, 6, 0)
        left.addWidget(self.choice)
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
        cards = [Card("Nine filters in ten lie in the corridor", self.envelope)]
        cards += [Card("", plot) for plot in self.figures]
        for card, where in zip(cards, ((0, 0, 1, 2), (1, 0, 1, 2), (2, 0, 1, 1), (2, 1, 1, 1)), strict=True):
            # A title that may wrap would make the scroll area give every picture its preferred height.
            card.heading.setWordWrap(False)
            grid.addWidget(card, *where)
        self.cards = tuple(cards[1:])
        for place, (least, share) in enumerate(((190, 4), (150, 3), (150, 3))):
            grid.setRowMinimumHeight(place, least)
            grid.setRowStretch(place, share)
        # A small window scrolls; squeezed histograms tell nothing.
        right = QScrollArea()
        right.setWidgetResizable(True)
        right.setWidget(pictures)
        whole = self._whole = Folding(Card("Scatter and limits", area), right, shares=(2, 3))
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.addWidget(whole)

    @property
    def result(self) -> ToleranceRun | None:
        """The last run's result."""
        return self._run

    def fold(self, narrow: bool) -> None:
        self._whole.fold(narrow, (2, 3))
        self.setMinimumHeight(_STACKED_HEIGHT if narrow else _LEAST_HEIGHT)

    def refresh(self, bench: Workbench) -> None:
        self.form.show_model(bench.current.scatter, ("scatter",))
        self._offer()
        self.start.setEnabled(bool(self._choices))
        if self._run is not None:
            self._show_verdict()

    def _offer(self) -> None:
        """Offer the filters that there are; the one chosen before stays, the ladder is the first choice."""
        chosen = self._chosen()
        self._choices = scattered.scatterable(self._bench.analysis)
        titles = [_title(each) for each in self._choices]
        if titles != [self.choice.itemText(n) for n in range(self.choice.count())]:
            self.choice.clear()
            self.choice.addItems(titles)
        place = next((n for n, each in enumerate(self._choices) if _key(each) == chosen), None)
        if place is None:
            place = next((n for n, each in enumerate(self._choices) if each.judging.asked), 0)
        self.choice.setCurrentIndex(place if self._choices else -1)
        self._show_fields()

    def _show_fields(self) -> None:
        """Only what scatters in the chosen filter, and the limits that it is held to."""
        index = self.choice.currentIndex()
        asked = index < 0 or self._choices[index].judging.asked is not None
        without = frozenset() if asked else LADDERS_ALONE
        self.form.show_only([name for name in Scatter.model_fields if name not in without])

    def restyle(self) -> None:
        for plot in (self.envelope, *self.figures):
            plot.restyle()
        if self._run is not None:
            self._show_run(self._run)

    def run(self) -> None:
        """Try scattered parts for the chosen filter; a run that is under way is given up."""
        # Also right after the page was made, before anything refreshed it.
        self._offer()
        source = self._present()
        if source is None:
            self._show_nothing("There is no filter in the rig; add one.")
            return

        def work(job: Job) -> ToleranceRun | Unsolved | None:
            def watch(done: float) -> bool:
                job.progress(done)
                return not job.cancelled

            return scattered.run(source.tried, source.scatter, watch)

        self._show_running(True)
        self._tasks.start("tolerance", work, lambda result: self._done(source, result), self._progressed)

    def _chosen(self) -> tuple[str, int | None] | None:
        index = self.choice.currentIndex()
        return _key(self._choices[index]) if 0 <= index < len(self._choices) else None

    def _choose(self) -> None:
        self._show_nothing("Nothing tried yet of this filter: press “Try the parts”.")
        self._show_fields()

    def _present(self) -> _Source | None:
        tried = scattered.scatterable(self._bench.analysis)
        chosen = self._chosen()
        found = next((each for each in tried if _key(each) == chosen), None)
        return None if found is None else _Source(found, self._bench.current.scatter)

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
        for plot in (self.envelope, *self.figures):
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
        for plot, card, figure in zip(self.figures, self.cards, run.measured, strict=True):
            title = f"{figure.title[:1].upper()}{figure.title[1:]}"
            card.heading.setText(f"{title}, limits shaded")
            plot.show_distribution(scattered.distribution(figure.values), figure.title, figure.unit)

    def _show_verdict(self) -> None:
        run, source = self._run, self._source
        assert run is not None  # callers have checked
        assert source is not None
        limits = scattered.limits(run, source.tried.judging, self._bench.current.scatter)
        for plot, figure in zip(self.figures, run.measured, strict=True):
            plot.show_limits(*limits[figure.key])
        first = run.measured[0]
        lines = [f"{100 * run.good(limits):.0f} % of {first.values.size} filters keep every limit."]
        for figure in run.measured:
            values = figure.values[np.isfinite(figure.values)]
            if values.size:
                low, high = (format_value(float(v), figure.unit, 3) for v in np.percentile(values, [5, 95]))
                lines.append(f"{figure.title[:1].upper()}{figure.title[1:]} {low} to {high} in nine of ten.")
        matters = _parts(run.shares)
        if matters:
            lines.append(f"The scatter of the {first.title} comes most from {matters}.")
        if not source.is_current(self._present()):
            lines.append("This is for an earlier design or scatter: try the parts again.")
        self.verdict.setText("\n".join(lines))


#: What a crystal's figures are called, by the name they have behind its reference.
_FIGURES = {"lm": "Lm", "c0": "C0", "q": "Q"}


def _parts(shares: tuple[tuple[str, float], ...]) -> str:
    """The parts that scatter a figure most, as a builder knows them: Q of X5, not `X5.q`."""
    known = {
        f"{ref}.{figure}": f"{title} of {ref}" for ref, _ in shares for figure, title in _FIGURES.items()
    }
    return ", ".join(
        f"{known.get(ref, ref)} {100 * share:.0f} %" for ref, share in shares[:4] if share > 0.01
    )


def _key(tried: Scatterable) -> tuple[str, int | None]:
    return tried.stage, tried.index
