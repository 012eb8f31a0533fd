"""The bench log against what is expected: verdicts, causes, and readings taken into the design.

An `Item` (`item.py`) is a test point, a declared figure or a part, with the value of the present design and
how far a reading may be off; `expected.py` gathers all of a rig. A reading binds to its stage, key, direction
and band, so that it is judged anew with every edit (`bench_log.py`). Why one is out is found by turning each
part of its stage while all others stay as they are and computing the very same item again (`causes.py`), so
it works for whatever is made of parts; causes are ranked by how many times its usual tolerance a part would
be off. Of a level what was read at the place before counts first.
"""
