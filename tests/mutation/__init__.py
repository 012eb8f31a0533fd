"""Small wrong changes of core's formulas, one at a time, to see whether a test finds them; run by hand.

    python -m tests.mutation --count 300 [--module core.rig.levels.transmit] [--seed 1] [--jobs 1]

A change counts as found when a test fails with it. `mutants.py` says which changes are tried and which
places are left out, `no_fault.py` which changes nobody could see and why. `sight.py` records which test
passes through which lines, anew only for files that changed or whose lines of core have moved. `trial.py`
puts each change into living functions, in a fork of a process that has collected all tests, and runs
those that pass by the changed lines, nearest first, until one fails; what that cannot try, `anew.py`
tries by importing. The summary is printed and kept in `.benchmarks/mutation.json`; which changes are
drawn depends on the seed and the source alone. A change that survives is either no fault (list it) or
wants a test.
"""
