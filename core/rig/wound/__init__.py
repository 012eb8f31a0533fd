"""Coils of the rig as they are wound.

Coils on a core (of filters, VFO and carrier), and the VFO's in air, have whole turns
(`stages/coils/winding.py`): what these give, squeezed or spread as far as need be, is what the circuit is
solved with. What each then is stands in `rig/wound/windings.py`, the same on screen, on the sheet and in
the report; which core to take, tried in the filter itself, in `rig/wound/core_choice.py`.

Which way windings go, what their ends go to, and where taps are, is read off the circuit (`ends.py`): a dot
stands for the first node of each winding, and of a coil for the end at ground.
"""
