"""Audio amplifiers of a builder's parts: voltage amplifiers, power stages, what a microphone is to them.

Audio stages of parts are designed like amplifiers (`stages/audio`): bias by custom, capacitors from the
resistances beside them, the one resistor that sets the gain on the whole circuit, then preferred values. A
chip is a few controlled sources by its data sheet's figures (`circuits/devices/chips.py`), which solver,
direct currents and netlist all read. How far an output swings before something runs out is told for any
load by two solutions (`circuits/active/swing.py`); a complementary pair's limits are those of class B.
Nothing is matched in audio: in `rig/levels/chain.py` levels there are the power that really flows, from the
microphone's impedance (`stages/audio/microphone.py`) to the speaker's, and a stage's compression follows
from its swing into its load. What tones pass is that chain times the ladder with the carrier at its place
(`rig/audio/chain.py`); hum is each stage's circuit driven at its supply by the station's ripple.
"""
