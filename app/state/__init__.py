"""What the window holds: project with its history, look, file, tasks, recovery.

Nobody's error ends silently: `app/state/mishaps.py` catches what nobody caught, writes the recovery copy
first, logs the trace (`copperclad.log` in the user's data folder, of bounded size) and tells one sentence.
The recovery copy (`app/state/recovery.py`) is written after 2 s of rest or 8 s after the first edit that it
lacks; it is deleted only when the work is saved, given up, or in another copy. `Workbench.settling` asks
for texts that wait for a pause in typing, before the design is saved, left, undone, held or printed. A
table of readings is kept as values; a cell that is none stays beside them as it was typed, and a text that
is no table yet is the batch's draft (`core/model/readings.py`). Names are shown through
`app/style/plain.py`, so that none is ever markup; every modal dialog is run by `app/state/dialogs.py`, so
that none is left behind.
"""
