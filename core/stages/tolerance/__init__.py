"""Tolerance runs: many circuits with scattered parts, and what comes of them.

`drawn.py` draws the parts and sets trimmers, `filters.py` runs and judges filters, `curves.py` measures their
curves, and `judging.py` holds what every run has, those of amplifiers
(`core/stages/amplifiers/scattered.py`) too.
"""
