"""The sample projects, found from a checkout and from an installed package alike."""

from pathlib import Path

_CORE = Path(__file__).resolve().parents[1]
#: The sample that the program opens when it is given nothing.
FIRST_SAMPLE = "tern-20-12"


def sample_path(name: str = FIRST_SAMPLE) -> Path:
    """The file of the sample called `name`."""
    packed = _CORE / "sample_projects"
    return (packed if packed.is_dir() else _CORE.parent / "sample_projects") / f"{name}.json"
