"""What the rig draws, what feeds it, and how it is switched.

Each kind tells what it draws at a voltage of its supply (`Kind.draws`), from its circuit's direct currents;
what cannot tell has its current typed in `Supply.loads`. Each consumer is asked at four voltages of its
rail, between which its current is a straight line, so that voltage at the rig and current are found from
each other without solving a circuit again (`rig/supply/state.py`). All of it hangs on one `Feeding`, which
is the same object for rigs that are fed alike: a turn of the IF finds every figure of the supply again.
What a fuse may take is the longest that its standard allows, what a diode bears its surge for so long; the
table of ways to stand against wrong polarity holds one against the other. Every remedy of these rules was
tried on the rig (`rig/rules/power/tried.py`).

The circuit of it all (`soldered.py`, made part after part in `making.py`) has a node for each rail
(`rails.py`): what is fed in one direction only hangs on a rail that a relay or a transistor switches. Who is
fed is a load on its node, so that the netlist's operating point comes to the tables' voltages. Board, parts
list, schematic and test points read that one circuit. What makes the lines that switch it is no part of it.

Values as built stand with the regulator, relay or decoupling that they are of, the others with the supply;
`fitted.py` puts them in the place of what was asked, and all figures are of that. Where a part's value stands
in a design is told by `SupplyDesign.places`.
"""
