"""Small wrong changes of core's formulas, one at a time, to see whether a test finds them; run by hand.

    python -m tests.mutation --count 300 [--module core.rig.levels.levels] [--seed 1] [--jobs 1]

A change counts as found when a test fails with it. `mutants.py` says which changes are tried and which places
are left out, `sight.py` records once which test passes through which lines, and `trial.py` makes each change
in a fork of a warm process and runs only the tests that pass through the changed lines, nearest first, until
one fails. The summary is printed and kept in `.benchmarks/mutation.json`; which changes are drawn depends on
the seed and the source alone. A change that survives is either no fault (say why) or wants a test.
"""
