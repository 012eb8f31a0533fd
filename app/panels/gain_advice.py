"""Where to put how much gain: sought on the whole rig, seen before it is done."""

from collections.abc import Callable

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QWidget

from app.panels.remedy_dialog import Tried, offer, tried
from app.state.seeking import Seeking
from app.state.workbench import Workbench
from core.rig.analysis import Analysis
from core.rig.remedies.gain_plan import GainPlan, gain_plan
from core.stages.outcome import Unsolved
from core.stages.steps import Steps


class GainAdvice(QObject):
    """Proposes the gains of the receiver's stages for the design on the bench; `say` tells what there is to
    say without a dialog.
    """

    def __init__(self, bench: Workbench, window: QWidget, say: Callable[[str], None]) -> None:
        super().__init__(window)
        self._bench, self._window, self._say = bench, window, say
        self._seeking = Seeking(self)
        self._seeking.found.connect(self._show)

    def begin(self) -> None:
        """Look for the gains, and offer them."""
        self._bench.settling.emit()
        self._say("Looking for the gains…")
        self._seeking.begin(_advice(self._bench.analysis))

    def _show(self, found: Tried | str) -> None:
        self._say("")
        if isinstance(found, str):
            self._say(found)
        elif found.now is self._bench.analysis:
            offer(self._bench, self._window, found, self._bench.band_name)


def _advice(now: Analysis) -> Steps[Tried | str]:
    plan = yield from gain_plan(now.project)
    if isinstance(plan, Unsolved):
        return plan.reason
    if not plan.edit.changes:
        return "The gains are already the least that meet what is wanted."
    return (yield from tried(now, as_text(plan), (plan.edit,)))


def as_text(plan: GainPlan) -> str:
    """The gains now and as proposed, a line a stage, with what keeps each from being less."""
    rows = [
        f"{each.name}: {each.now_db:g} dB now, {each.then_db:g} dB proposed ({each.binds})"
        for each in plan.shares
    ]
    return "\n".join([*rows, *([plan.short] if plan.short else [])])
