"""What trials of small wrong changes stand on: each test computes anew, and a run that broke is no record."""

import pytest

from core.rig import bag
from core.trade.diodes import diodes
from tests.mutation import sight


def test_all_that_is_kept_is_forgotten(tern):
    """By caches of the library and by our own, whose class stands in modules too and is none itself."""
    diodes()
    bag._read(tern.crystal_batch)
    sight.forget()
    assert diodes.cache_info().currsize == 0
    assert not bag._read.knows(tern.crystal_batch)


def test_a_run_that_did_not_end_is_not_recorded(monkeypatch):
    """With nothing recorded every change would look as if no test could find it."""
    monkeypatch.setattr(sight, "modules", tuple)
    monkeypatch.setattr(sight.sys, "meta_path", list(sight.sys.meta_path))
    monkeypatch.setattr(sight.builtins, "__reached__", None, raising=False)
    monkeypatch.setattr(sight.pytest, "main", lambda *_, **__: pytest.ExitCode.INTERNAL_ERROR)
    with pytest.raises(SystemExit, match="did not run to their end"):
        sight.record(["tests/circuits/test_variants.py"])
