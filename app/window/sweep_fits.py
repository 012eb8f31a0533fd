"""Sweeps of crystals that the signal path's parts wait for, fitted one by one while the window lives."""

from collections.abc import Iterator

from PySide6.QtCore import QObject, QTimer

from app.state.workbench import Workbench
from app.window.refresh import Refresher
from core.model.bench import CrystalBatch
from core.stages.kinds.table import KINDS


class SweepFits(QObject):
    """Begins when a ladder that is built of swept crystals is selected; the views follow when it is done."""

    def __init__(self, bench: Workbench, refresher: Refresher) -> None:
        super().__init__(refresher)
        self._bench, self._refresher = bench, refresher
        self._work: tuple[CrystalBatch, Iterator[float]] | None = None
        self._next = QTimer(self, singleShot=True, interval=0)
        self._next.timeout.connect(self._fit)
        bench.changed.connect(self._begin)

    def _begin(self) -> None:
        key, batch = self._bench.look.stage, self._bench.current.crystal_batch
        stage = None if key is None else self._bench.current.stage(key)
        ladder = None if stage is None else KINDS[stage.kind].ladder(stage)
        if ladder is None or not ladder.as_built:
            return
        from core.rig.bag import unfitted
        from core.rig.bench.crystal_bench import fit_sweeps

        if not unfitted(batch):
            return
        if self._work is None or self._work[0] is not batch:
            self._work = batch, fit_sweeps(batch)
        if not self._next.isActive():
            self._next.start()

    def _fit(self) -> None:
        from core.rig.bag import unfitted

        assert self._work is not None  # what the timer was started for
        batch, steps = self._work
        if next(steps, None) is not None and unfitted(batch):
            self._next.start()
        else:
            self._work = None
            self._refresher.request()
