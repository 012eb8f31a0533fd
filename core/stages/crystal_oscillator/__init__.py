"""Crystal oscillators of parts, for the carrier and the read-out's helper.

A Colpitts oscillator whose crystal stands with a trimmer, and a coil where one is wanted, between base (gate)
and ground, a row for each frequency asked; behind it a buffer with a choke at its collector. `asked.py` says
what is wanted, `soldered.py` what is soldered where, `design.py` finds the values and gives the `Design`, and
`working.py` reads off the whole circuit on its fitted parts where it oscillates, whether it starts, how warm
its crystal gets and what it delivers (`core.circuits.active.oscillation`, `amplitude`).
"""
