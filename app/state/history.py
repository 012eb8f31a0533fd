"""The designs of a session: the present one, those that undo and redo lead to, and the held one."""

from collections.abc import Hashable

from core.model.project import Project
from core.record import record

#: Steps of undo that are kept. A step shares all untouched parts with its neighbours: about 2 kB.
UNDO_LIMIT = 500


@record
class _Step:
    """A design that an edit replaced, and what the edit was called."""

    project: Project
    label: str


class History:
    """Undo is the former design, redo the later one, hold one that is kept beside them."""

    def __init__(self, project: Project) -> None:
        self.begin(project)

    def begin(self, project: Project) -> None:
        """Forget everything; the history begins with this design."""
        self.current = project
        self.held: Project | None = None
        self._undo: list[_Step] = []
        self._redo: list[_Step] = []
        self._gesture: Hashable | None = None

    def take(self, new: Project, label: str, gesture: Hashable | None = None) -> None:
        """Let another design be the present one, as a step called `label`.

        Consecutive designs of one `gesture` are one step, and none when they lead back to where it began.
        """
        if gesture is None or gesture != self._gesture:
            self._undo.append(_Step(self.current, label))
            del self._undo[:-UNDO_LIMIT]
        self._gesture = gesture
        self._redo.clear()
        self.current = new
        if new == self._undo[-1].project:
            # An undo that changes nothing would only puzzle; the gesture, if it goes on, begins anew.
            self._gesture = None
            self.current = self._undo.pop().project

    @property
    def undo_label(self) -> str | None:
        """What undo would take back; None when there is nothing."""
        return self._undo[-1].label if self._undo else None

    @property
    def redo_label(self) -> str | None:
        """What redo would bring back; None when there is nothing."""
        return self._redo[-1].label if self._redo else None

    def back(self) -> bool:
        """Go back one step; False when there is none."""
        return self._travel(self._undo, self._redo)

    def forward(self) -> bool:
        """Go forward one step; False when there is none."""
        return self._travel(self._redo, self._undo)

    def _travel(self, source: list[_Step], target: list[_Step]) -> bool:
        if not source:
            return False
        step = source.pop()
        target.append(_Step(self.current, step.label))
        self._gesture = None
        self.current = step.project
        return True
