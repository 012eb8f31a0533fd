"""Boards with islands, the whole rig and its panels, drawn to scale.

A board is made of a stage's one `Circuit` (`rig/board/boards.py`): `items.py` gives every part a package by
kind, role, value and heat (`assets/packages.json`), a link its coil's core, a transistor its leads in their
order. `skeleton.py` puts an island for each node: the signal's way in a row, what leads to ground below,
what leads to a rail or back above, rails as lines of islands, and a way of its own beside the signal's in a
row of its own. `placing.py` then lays part after part where its leads are shortest among the places that
are free, those that cross something once more; what finds none gets islands of its own with wires, so that
every circuit has a board. It is cached on packages and nodes, which few edits change.

What was put by hand (`Project.boards`) overrides single places: parts by role and number, islands by a lead
that lands there, so that new names and new numbers of nodes leave them alone. `plan.py` runs the leads
anew, `checks.py` tells what lies on what and reads the netlist back from geometry alone, as a meter would;
tests hold it against the circuit, for random ones too. Everything is drawn as one `Drawing` in metres
(`drawing.py`) that canvas, SVG and paper paint; `sheets.py` cuts it into tiles with a line of 100 mm. A
kind of stage that is a `Circuit` needs nothing more.
"""
