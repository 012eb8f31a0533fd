"""The LC VFO: its tank, range, start-up, drift and what stills it.

The capacitance that a frequency needs across the tuning follows from the coil and the feedback divider; two
frequencies give the swing that tuning capacitor and padder must make, the rest is fixed
(`stages/vfo/relations.py`, `tank_solution.py`). What is shown afterwards never comes from these relations
but from the resonance of the whole circuit on its fitted parts (`stages/vfo/tank.py` says what is soldered
where, for the drawing too; `circuits/resonator.py`): with one coil the inverse capacitance matrix gives
frequency, node voltages and every capacitor's share of the energy, and from those follow drift,
compensation and start-up margin. An as-built value counts as given and the other parts are found around it.
The device's current is never typed: it follows from the resistors that are drawn (`circuits/bias.py`,
`stages/vfo/oscillator.py`), and what makes a lazy oscillator start is tried on the whole tank before it is
advised (`stages/vfo/start_up.py`). Compensation takes the value whose worst place on any dial drifts least,
not the one that stills the middle (`stages/vfo/compensation.py`).
"""
