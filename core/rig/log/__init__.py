"""The bench log against what is expected: verdicts, causes, and readings taken into the design.

An `Item` (`item.py`) is a test point, a declared figure or a part, with the value of the present design and
how far a reading may be off; `expected.py` gathers all of a rig. A reading binds to its stage, key, direction
and band, so that it is judged anew with every edit (`bench_log.py`); so does a measured sweep (`curves.py`),
whose verdict is found in `core.rig.built.verdict`. Why a reading is out is found by turning each knob of
its stage (`knobs.py`: parts, figures typed for a device, what feeds it, transistors) while all others stay as
they are and computing the very same item again (`causes.py`), so it works for whatever is made of parts;
causes are ranked by how many times its usual tolerance a part would be off, and can be taken into the design
(`taken.py`, of the supply `supply.py`).
Of a level what was read at the place before counts first.
"""
