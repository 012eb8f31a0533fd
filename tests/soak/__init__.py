"""What is tried by the thousand: a command beside the benchmarks, and a small share of it in the suite.

    python -m tests.soak files --count 20000 [--seed 1] [--seconds 1800]

A module of this package that has `cases(count, seed)` is a command of its own name. `cases` yields an
`Outcome` for each thing tried; the outcomes in the module's `FINE` are only counted, every other one is
listed with the way to see it again. The module's first line of documentation is its help.
"""
