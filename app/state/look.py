"""What of a design is looked at: band, direction, dial and selection. None of it is design or undone."""

from core.model.bands import Band
from core.model.project import Project
from core.model.stages.stage import Way
from core.model.values.base import Path
from core.model.values.errors import DesignError
from core.record import record

#: Parts of the rig that can be selected besides stages.
_PARTS = ("vfo", "carrier", "station", "speaker", "microphone")


@record
class Look:
    """How a picture of the design is taken: on which band, in which direction, with the dial where [Hz].

    `selection` is the selected place: `("stages", key)`, `("vfo",)`, ...; empty for the rig as a whole.
    """

    band: str
    way: Way
    dial_hz: float
    selection: Path = ()

    @property
    def stage(self) -> str | None:
        """Key of the selected stage, if a stage is selected."""
        return str(self.selection[1]) if self.selection[:1] == ("stages",) else None


class Looking:
    """Where the builder looks. It follows a design whose bands and stages are renamed or removed."""

    def __init__(self, project: Project) -> None:
        self.way: Way = "receive"
        self.begin(project)

    def begin(self, project: Project) -> None:
        """Look at another design: its first band, the dial in the middle, nothing selected."""
        self.band = project.bands[0].name
        self.selection: Path = ()
        self._dials: dict[str, float] = {}

    def look(self, project: Project) -> Look:
        """The present look at a design."""
        band = project.band(self.band)
        dial_hz = self._dials.get(band.name, _middle(band))
        dial_hz = min(max(dial_hz, band.low_hz), band.high_hz)
        return Look(band.name, self.way, dial_hz, self.selection)

    def at_band(self, name: str) -> None:
        """Look at another band."""
        self.band = name

    def at_way(self, way: Way) -> None:
        """Look at receive or transmit."""
        self.way = way

    def turn_dial(self, hz: float) -> None:
        """Turn the dial of this band; each band remembers its own."""
        self._dials[self.band] = hz

    def select(self, project: Project, path: Path) -> None:
        """Select a place of a design; only stages and the rig's other parts are kept, not fields."""
        selection = _selectable(project, path)
        if selection == self.selection:
            return
        self.selection = selection
        if self.selection[:1] == ("stages",):
            direction = project.stage(str(self.selection[1])).direction
            if direction not in (self.way, "both"):
                self.way = "transmit" if direction == "transmit" else "receive"

    def follow(self, old: Project, new: Project) -> None:
        """Look at the design that took the place of another one."""
        if all(band.name != self.band for band in new.bands):
            # A renamed band stays the one looked at.
            names = [band.name for band in old.bands]
            place = names.index(self.band) if self.band in names else 0
            renamed = new.bands[min(place, len(new.bands) - 1)].name
            if self.band in self._dials:
                self._dials[renamed] = self._dials[self.band]
            self.band = renamed
        self.selection = _selectable(new, self.selection)


def _selectable(project: Project, path: Path) -> Path:
    if path[:1] == ("stages",) and len(path) > 1:
        try:
            return ("stages", project.at(path[:2]).id)
        except DesignError:
            return ()
    return path[:1] if path and path[0] in _PARTS else ()


def _middle(band: Band) -> float:
    """A round dial frequency [Hz] near the middle of the band, where the dial stands at first."""
    step = 1e3 if band.high_hz - band.low_hz > 4e3 else 1.0
    return round(band.centre_hz / step) * step
