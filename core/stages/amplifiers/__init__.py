"""Amplifiers of a builder's transistors: topologies, their design, and what they do.

A topology is a list of parts between nodes (`stages/amplifiers/topologies.py`). Bias comes from customary
voltages and is trimmed to the current asked on the whole circuit's direct currents
(`circuits/active/operating.py`, Newton's method); degeneration and feedback start at the closed form of an
ideal transistor and are solved on the two-port (`stages/amplifiers/solver.py`); of preferred values those
are taken that together miss gain and match least. Values are looked for at frequencies a hundredth apart,
so that an IF that is turned searches now and then only. A two-port with its noise is one adjoint solve
(`circuits/active/two_port.py`); third order is by nonlinear currents on the same matrix, compression an
empirical rule on the limits of class A (`circuits/active/large_signal.py`). What helps the bias settle
never reaches the signal's equations, and a crystal is one branch there too. A transistor is a row of
`assets/devices.json` or the builder's own (`Project.transistors`), found by its name
(`stages/transistors.py`); a MOSFET is a square law beyond its threshold.

An electrode that no direct current reaches is a finding (`without_bias` in `circuits/circuit.py`). Nodes of
a passive filter need no such path: nothing there has an operating point, and the signal alone settles their
voltages. In a netlist with transistors such nodes get 1 TΩ, without which simulators may settle on a wrong
operating point.

A bilateral pair (`stages/amplifiers/pair.py`) is two of three transistors on the same two terminals, one
`Circuit` for either direction that differ in ports and rails: the half not in use stands there with 0 V on
its rail, and its resistors and capacitances load the other. The search adds the off half's admittances to
those of the half being made; all that is told comes from the whole circuit.

What an amplifier does with the impedances that really stand beside it is folded from the two-ports up to
the next mixers on either side (`rig/levels/ends.py`). What each part does to its figures
(`stages/amplifiers/sensitivity.py`) are circuits with one part larger, whose bias is one Newton step for
all of them (`active/many.py`) and whose matrices are solved together (`two_port.of_linear`).
"""
