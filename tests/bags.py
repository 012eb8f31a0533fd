"""Bags of crystals in tests: readings typed as a table."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from core.model.bench import Sweep
from core.model.project import Project
from core.model.readings import readings_of
from core.rig.bench import crystal_bench
from core.rig.bench.crystal_bench import BatchRow
from core.stages.crystals.crystals import Fixture, Method


def read_batch(
    text: str,
    method: Method,
    fixture: Fixture,
    sweeps: Sequence[Sweep] = (),
    refused: Mapping[str, str] = MappingProxyType({}),
) -> tuple[BatchRow, ...]:
    """The batch in a table, measured so."""
    return crystal_bench.worked_out(readings_of(text), method, fixture, sweeps, refused)


def with_table(project: Project, text: str) -> Project:
    """The project with these readings."""
    return project.edited(("crystal_batch",), crystal_bench.with_readings(project.crystal_batch, text))
