"""What the page of a stage shows of its kind.

A view of a kind of stage: its picture in `app/pictures/`, a `StageView` with `picture_of` and `draw`, and
its line in `app/stage_views/kinds.py`. What it needs computed is asked of `Analysis`,
`rig/paper/curves.py`, `rig/tuning.py` or `rig/ladder_facts.py`, never of a stage or a circuit.
"""
