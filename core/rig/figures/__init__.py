"""Every result declared once: its name, unit, digits, what it is, where it comes from and how it is got.

A figure: a `Figure` in its table in `core/rig/figures`: key (its name in JSON), title, one sentence of what
it is, formula or source, unit, digits or decimals, and a function that gets it from one result. Report,
JSON, sheet, tables (`app/pictures/told.py`), notes of plots, held against now, findings' numbers and tips
all write it by `Figure.text`; nothing formats a result by itself.
"""
