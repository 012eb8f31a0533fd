"""Filters as they come out: what tolerances make of them, and what a measured curve tells of the parts.

The shade around every response is 64 filters with scattered parts, at each point drawn: to first order by
slopes from two sweeps (`circuits/slopes.py`), and what that misses by trials solved on a coarser grid and
wherever one moves far (`stages/built/corridor.py`); it is within 0.2 dB of solving all of them, in a
quarter of the time.
"""
