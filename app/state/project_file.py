"""The file that a design belongs to: where it lies, what it holds, and whether somebody else wrote to it."""

from pathlib import Path

from core.model import files
from core.model.project import Project
from core.record import record


@record
class ProjectFile:
    """A file as it was when it was read or written here; no `place`: the design has none yet.

    `holds` is the design in it; None when the design on the bench never was in it.
    """

    place: Path | None = None
    holds: Project | None = None
    fingerprint: str | None = None

    @classmethod
    def of(cls, place: Path | None, holds: Project | None) -> "ProjectFile":
        """A file that holds this design, as it is now on the disk."""
        return cls(place, holds, None if place is None else files.fingerprint(place))

    @classmethod
    def read(cls, place: Path) -> "ProjectFile":
        """A file and the design in it; `FileError` when there is none."""
        # Of before it was read: a change between the two is one more question, never one too few.
        found = files.fingerprint(place)
        return cls(place, files.load(place), found)

    def written(self, project: Project, place: Path | None = None) -> "ProjectFile":
        """Save a design to `place`, or here; `FileError` leaves the old file whole."""
        target = place or self.place
        if target is None:
            raise ValueError("A design without a file needs a name to be saved under.")
        files.save(project, target)
        return ProjectFile.of(target, project)

    def lacks(self, project: Project) -> bool:
        """Whether a design differs from the one in the file."""
        return project is not self.holds and project != self.holds

    def changed_outside(self) -> bool:
        """Whether the file holds something else than it did when it was read or written here."""
        now = None if self.place is None else files.fingerprint(self.place)
        return now is not None and now != self.fingerprint
