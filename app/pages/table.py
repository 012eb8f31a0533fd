"""Every page of the window, a row each; a page is imported and made when it is first looked at.

A page or a panel: likewise a picture and a `Drawn` view. A page is one line in `app/pages/table.py`: its
name, its class as text, what that takes, and which part of the design has its fields there. Tab, menu,
keys, jumps from findings and `copperclad screens` follow, and nothing is imported for it before it is
looked at. What the builder's own hand changed in a widget (a tick, a pressed button) is no part of the
picture; such a view is told to `forget` it, so that it is drawn in any case. A page with fields beside
results is a `BesidePage` (`app/pages/beside.py`).
"""

from pkgutil import resolve_name
from typing import Literal, NamedTuple

from app.state.settings import Settings
from app.state.tasks import Tasks
from app.state.workbench import Workbench
from app.widgets.view import View


class Surroundings(NamedTuple):
    """What a page may be made with."""

    bench: Workbench
    tasks: Tasks
    settings: Settings


class Page(NamedTuple):
    """A page before it is made."""

    #: As on its tab and in the menu.
    name: str
    #: Its class, as `module:name`, so that nothing is imported for it before.
    view: str
    #: What its class takes, in that order.
    takes: tuple[Literal["bench", "tasks", "settings"], ...] = ("bench",)
    #: Where in the design the fields lie that are edited on it; its class is then a `FieldsView`.
    edits: tuple[str, ...] = ()

    def made(self, surroundings: Surroundings) -> View:
        """The page itself."""
        view: View = resolve_name(self.view)(*(getattr(surroundings, each) for each in self.takes))
        return view


#: The signal path, what belongs to it, and what is built of it: each group's tabs stand together.
_DESIGNED = (
    Page("Whole rig", "app.pages.whole_rig:WholeRigPage"),
    Page("Stage", "app.pages.stage:StagePage"),
    Page("Levels", "app.pages.levels:LevelsPage", ()),
    Page("IF survey", "app.pages.if_survey:IfSurveyPage", ("bench", "tasks")),
)
_BESIDE = (
    Page("Read-out", "app.pages.read_out:ReadOutPage", edits=("read_out",)),
    Page("Supply", "app.pages.supply.page:SupplyPage", edits=("supply",)),
    Page("Crystals", "app.pages.crystals:CrystalsPage", ("bench", "tasks"), edits=("crystal_batch",)),
    Page("Tolerance", "app.pages.tolerance:TolerancePage", ("bench", "tasks")),
)
_BUILT = (
    Page("Board plan", "app.pages.board_plan:BoardPlanPage", ("bench", "settings"), ("boards", "panels")),
    Page("Junk box", "app.pages.notebook.junk_box:JunkBoxPage"),
    Page("Bench log", "app.pages.notebook.bench_log:BenchLogPage"),
    Page("Build sheet", "app.sheet.preview:SheetPage", ("bench", "settings")),
)
GROUPS = (_DESIGNED, _BESIDE, _BUILT)
PAGES = tuple(page for group in GROUPS for page in group)


def keys_of(number: int) -> tuple[str, ...]:
    """The keys that bring the page of a number, counted from 1, to the front; none beyond the tenth."""
    return (f"Alt+{number % 10}",) if number <= 10 else ()


#: The keys of the last page that has some.
LAST_KEYS = keys_of(min(len(PAGES), 10))[0]
