"""Tolerance: what scattered parts make of a filter or an amplifier, how many are good, which part matters."""

from PySide6.QtWidgets import QGridLayout, QProgressBar, QPushButton, QWidget

from app.pages.beside import BesidePage, in_a_row, scrolled
from app.panels.forms import Form
from app.pictures.bench.tolerance import (
    NOTHING_TO_TRY,
    Key,
    Ran,
    Source,
    TolerancePicture,
    key_of,
    picture_of,
    selected,
    source_of,
)
from app.plots.base import Card
from app.plots.envelope import EnvelopePlot
from app.plots.histogram import HistogramPlot
from app.state.tasks import Failed, Job, Tasks
from app.state.workbench import Workbench
from app.style.plain import Text, tip
from app.widgets.choice_box import ChoiceBox
from app.widgets.drawn import Drawn
from core.model.bench import Scatter
from core.rig import scattered
from core.stages.outcome import Unsolved
from core.stages.tolerance.judging import ToleranceRun

#: How many figures a run measures of each, and where four of them stand.
_FIGURES = {"filters": 3, "amplifiers": 4}
_NOTHING_YET = "Nothing tried yet: set how far the parts scatter, then press “Try the parts”."
_FOUR = ((1, 0, 1, 1), (1, 1, 1, 1), (2, 0, 1, 1), (2, 1, 1, 1))


class TolerancePage(Drawn[TolerancePicture], BesidePage):
    """Filter or amplifier, scatter and limits on the left; envelope, figures and verdict on the right."""

    def __init__(self, bench: Workbench, tasks: Tasks) -> None:
        super().__init__()
        self._bench, self._tasks = bench, tasks
        self.choice = ChoiceBox(least=24)
        self.choice.setAccessibleName("Filter or amplifier")
        self.choice.setToolTip("The filter or amplifier that is tried many times with other parts")
        self.choice.activated.connect(self._choose)
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
        self.envelope = EnvelopePlot()
        #: A histogram for each figure that a run measures, the one that matters most first.
        self.figures = tuple(HistogramPlot() for _ in range(4))
        fields = (
            self.choice,
            self.form,
            in_a_row(self.start, self.stop),
            self.progress,
            self.verdict,
        )
        # A small window scrolls; squeezed histograms tell nothing.
        pictures = scrolled(self._pictures())
        pictures.setAccessibleName("What scattered parts make of it")
        self.lay_out("Scatter and limits", fields, pictures)
        self._chosen: Key | None = None
        #: The stage that was selected on the path when one was chosen last.
        self._stage: str | None = None
        #: The last run of each that was tried, or the sentence why there is none.
        self._ran: dict[Key, Ran | str] = {}
        self._show_running(False)

    def _pictures(self) -> QWidget:
        pictures = QWidget()
        self._grid = QGridLayout(pictures)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self.corridor = Card("", self.envelope)
        self.cards = tuple(Card("", plot) for plot in self.figures)
        for card in (self.corridor, *self.cards):
            # A title that may wrap would make the scroll area give every picture its preferred height.
            card.heading.setWordWrap(False)
        self._grid.addWidget(self.corridor, 0, 0, 1, 2)
        self._lay_out_figures(3)
        for place, (least, share) in enumerate(((190, 4), (150, 3), (150, 3))):
            self._grid.setRowMinimumHeight(place, least)
            self._grid.setRowStretch(place, share)
        return pictures

    def _lay_out_figures(self, count: int) -> None:
        """Two rows of pictures below the corridor: four, or one over two others."""
        rows = ((1, 0, 1, 2), (2, 0, 1, 1), (2, 1, 1, 1)) if count < len(self.cards) else _FOUR
        for card in self.cards:
            self._grid.removeWidget(card)
        for card, where in zip(self.cards, rows, strict=False):
            self._grid.addWidget(card, *where)
        for number, card in enumerate(self.cards):
            card.setVisible(number < len(rows))

    @property
    def result(self) -> ToleranceRun | None:
        """The last run's result."""
        ran = self._run_of_chosen
        return None if isinstance(ran, str) else ran.run

    @property
    def _run_of_chosen(self) -> Ran | str:
        source = source_of(self._bench.analysis, self._chosen)
        return NOTHING_TO_TRY if source is None else self._ran.get(key_of(source.tried), _NOTHING_YET)

    def refresh(self, bench: Workbench) -> None:
        self.form.show_model(bench.current.scatter, ("scatter",))
        if bench.look.stage != self._stage:
            # The box offers all the same; whoever selects another stage looks at that one.
            self._stage = bench.look.stage
            self._chosen = selected(bench.analysis, bench.look) or self._chosen
        self.show_picture(picture_of(bench.analysis, self._chosen, self._run_of_chosen))

    def draw(self, picture: TolerancePicture) -> None:
        if list(picture.choices) != [self.choice.itemText(n) for n in range(self.choice.count())]:
            self.choice.clear()
            self.choice.addItems(list(picture.choices))
        self.choice.setCurrentIndex(picture.chosen)
        self.start.setEnabled(bool(picture.choices))
        # Only what scatters in the chosen one, and the limits that it is held to.
        self.form.show_only([name for name in Scatter.model_fields if name in picture.fields])
        self.corridor.entitle(f"Nine {picture.counted} in ten lie in the corridor")
        self._lay_out_figures(_FIGURES[picture.counted])
        self.envelope.show_picture(picture.envelope)
        for number, plot in enumerate(self.figures):
            if number < len(picture.titled):
                title, histogram, told = picture.titled[number]
                self.cards[number].entitle(title)
                self.cards[number].heading.setToolTip(tip(told))
                plot.show_picture(histogram)
            else:
                plot.show_picture(picture.envelope if isinstance(picture.envelope, str) else "")
        self.verdict.setText(picture.verdict)
        self.verdict.setToolTip(tip(picture.told))

    def restyle(self) -> None:
        for plot in (self.envelope, *self.figures):
            plot.restyle()
            plot.forget()
        self.forget()

    def run(self) -> None:
        """Try scattered parts for the chosen one; a run that is under way is given up."""
        source = source_of(self._bench.analysis, self._chosen)
        if source is None:
            return

        def work(job: Job) -> ToleranceRun | Unsolved | None:
            def watch(done: float) -> bool:
                job.progress(done)
                return not job.cancelled

            return scattered.run(source.tried, source.scatter, watch)

        self._show_running(True)
        self._tasks.start("tolerance", work, lambda result: self._done(source, result), self._progressed)

    def _choose(self, place: int) -> None:
        self._chosen = key_of(scattered.scatterable(self._bench.analysis)[place])
        self.refresh(self._bench)

    def _progressed(self, done: float) -> None:
        self.progress.setValue(round(100 * done))

    def _give_up(self) -> None:
        self._tasks.cancel("tolerance")
        self._show_running(False)

    def _show_running(self, running: bool) -> None:
        self.stop.setEnabled(running)
        self.progress.setVisible(running)
        self.progress.setValue(0)

    def _done(self, source: Source, result: "ToleranceRun | Unsolved | Failed | None") -> None:
        self._show_running(False)
        if isinstance(result, Unsolved | Failed):
            self._ran[key_of(source.tried)] = result.reason
        elif result is not None:
            self._ran[key_of(source.tried)] = Ran(source, result)
        self.refresh(self._bench)
