"""The main window and what it opens with.

An edit refreshes the visible plots in the same turn of the event loop (`View.refresh`). What costs a third
of an edit and nobody reads amid a gesture, findings (panel, marks on the strip, held against now),
schematics and the dial's birdie ticks, follows when the hand rests for 60 ms, at the latest 300 ms after
the first edit that it lacks (`View.settle`). `app/window/refresh.py` calls both. Findings are looked for in
slices of 10 ms between which the window lives: a search for a remedy is a generator that yields after every
change tried (`stages/steps.py`, `rules.inspection`), so that one step is what one ladder takes, 50 ms at
the worst. An edit amid that begins anew, but what was tried is remembered, and the fourth search is waited
for.

The window is painted once before anything is computed, with what the design says by itself: fields, names
on the path, dial and IF (`FirstPaint`). Plots are imported, and circuits solved, behind that.

In a narrow window a page stacks what otherwise stands side by side (`View.fold`); a table's columns share
its width by what stands in them. `tests/app/test_read_whole.py` reads every view at two sizes for what is
cut or overlaps.

Nobody waits for sweeps of crystals: the page that is about them fits them in `Tasks`, the parts of a ladder
say that they are being fitted while `app/window/sweep_fits.py` does it one by one, and the sheet takes a
step for each. What takes longer than the hand notices is cut up: the build sheet is made in steps between
which the window lives (`sheet_in_steps`, on paper too, where nobody can type meanwhile:
`printing.let_live`), so is a change of colours (`palette.steps`), long work runs in `Tasks`, and slow
libraries are imported one by one once the window rests, or a page waits for them
(`app/state/libraries.py`). Rules, survey, remedies, paper and further pages are imported when somebody
first looks there (`tests/test_imports.py`). A view that raises is covered by a sentence until it succeeds
again (`app/state/guard.py`).
"""
