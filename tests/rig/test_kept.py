"""What is kept of a bag of sweeps is what was found, not the sweeps."""

import gc
import weakref
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from core.model.bench import CrystalBatch, Sweep
from core.model.readings import readings_of
from core.rig.analysis import Analysis
from core.rig.bag import bag_of
from core.rig.bench import crystal_bench
from core.rig.bench.kept import kept
from core.stages.crystals import crystal_sweep
from tests.published.test_crystals import sweep


def swept(seed=1, **fields):
    f, s21 = sweep(noise_db=40, seed=seed)
    level = (20 * np.log10(np.abs(s21))).tolist()
    return Sweep.checked(**{"label": "x", "f_hz": tuple(f.tolist()), "s21_db": tuple(level), **fields})


def batch(one, **fields):
    table = readings_of("label;file;c0 (pF)\nA;x;\nB;x;4,5\n")
    return CrystalBatch.checked(**{"method": "sweep", "readings": table, "sweeps": (one,), **fields})


@pytest.fixture
def fits(monkeypatch):
    """The labels of the crystals that were fitted, in turn."""
    done, fit = [], crystal_sweep.from_sweep

    def noted(label, *rest, **more):
        done.append(label)
        return fit(label, *rest, **more)

    monkeypatch.setattr(crystal_sweep, "from_sweep", noted)
    return done


def test_a_digest_is_that_of_all_that_is_in_it():
    one, same = swept(), swept()
    assert one.digest == same.digest
    _ = batch(one).digest
    assert one == same, "a digest that was asked for makes no difference"
    assert hash(one) == hash(same)
    others = [swept(2), swept(label="y"), swept(reference_ohm=75.0), swept(s21_degrees=one.s21_db)]
    assert len({each.digest for each in (one, *others)}) == 5
    fields = ({"source_ohm": 75.0}, {"left_out": ("A",)}, {"readings": ()})
    more = [*(batch(one, **each) for each in fields), batch(swept(2))]
    assert len({each.digest for each in (batch(one), *more)}) == 5


def test_a_sweep_read_anew_is_not_fitted_anew(fits):
    first = crystal_bench.batch_of(batch(swept(3)))
    assert fits == ["A", "B"], "a given C0 is another fit"
    again = crystal_bench.batch_of(batch(swept(3), left_out=("A",)))
    assert fits == ["A", "B"]
    assert again[0].parameters is first[0].parameters
    crystal_bench.batch_of(batch(swept(3), source_ohm=51.0))
    assert fits == ["A", "B"] * 2


def test_no_sweep_is_held_by_what_was_found_in_it(tern):
    one = swept(4)
    rig = tern.edited(("crystal_batch",), batch(one))
    assert len(bag_of(Analysis(rig)).rows) == 2
    watched = [weakref.ref(one), weakref.ref(rig.crystal_batch)]
    del one, rig
    gc.collect()
    assert [each() for each in watched] == [None, None]


def test_the_oldest_goes_first_and_threads_get_one_object():
    calls = []

    @kept(2)
    def found(model, number):
        calls.append(number)
        return object()

    class Model:
        digest = "d"

    first = found(Model(), 1)
    assert found(Model(), 1) is first
    found(Model(), 2)
    found(Model(), 1)
    found(Model(), 3)
    assert [found.knows(Model(), n) for n in (1, 2, 3)] == [True, False, True]
    assert calls == [1, 2, 3]
    with ThreadPoolExecutor(8) as pool:
        assert len(set(pool.map(lambda _: found(Model(), 9), range(64)))) == 1


def test_what_must_be_fitted_yet_is_known_and_done_beforehand(fits):
    asked = batch(one := swept(5))
    assert crystal_bench.to_fit(asked) == (one, one)
    steps = crystal_bench.fit_sweeps(asked)
    shares = [next(steps), next(steps)]
    assert (shares, fits) == ([0.0, 0.5], ["A"]), "it stops when nobody waits"
    assert crystal_bench.to_fit(asked) == (one,)
    assert list(crystal_bench.fit_sweeps(asked)) == [0.0, 0.5]
    assert fits == ["A", "B"]
    crystal_bench.batch_of(asked)
    assert fits == ["A", "B"]
    assert crystal_bench.to_fit(asked.edited(("left_out",), ("A",))) == ()
    assert len(crystal_bench.to_fit(asked.edited(("load_ohm",), 51.0))) == 2
    more = asked.edited(("readings",), (*asked.readings, *readings_of("label;file\nC;x\nD;none\n;x\n")))
    assert len(crystal_bench.to_fit(more)) == 1
    assert crystal_bench.to_fit(asked.edited(("method",), "bandwidth")) == ()


def test_a_sweep_that_breaks_its_fit_is_not_tried_for_ever(monkeypatch):
    def broken(*_, **__):
        raise np.linalg.LinAlgError

    monkeypatch.setattr(crystal_sweep, "from_sweep", broken)
    asked = batch(swept(6))
    assert list(crystal_bench.fit_sweeps(asked)) == [0.0, 0.5]
    assert crystal_bench.to_fit(asked) == ()
    assert crystal_bench.batch_of(asked)[0].refused == "A: no crystal has such readings; read again."
