"""Mixers: what their circuit does at a drive, and as they are soldered: nodes, parts, transformers, bias.

`drive.py` solves devices between resistances over the oscillator's drive, and a modulator's balance;
`products.py` what they make besides; `figures.py` takes either from there, from a reading or from the type.

A mixer whose figures are of its circuit has one (`Mixer.members`); of one that is known by its type alone
there are no parts. `board.py` says where diodes stand, the same way round as the rows that
`circuits.switching.diodes` solves; `array.py` does so for six transistors and finds their bias. `design.py`
makes either: rows, circuit, transformers (`coils.py`). Half of the balance's track stands before each
diode, or at each emitter, and counts in the figures; what a transformer's inductance and leakage take is
counted beside them where the mixer works (`kinds/mixing.py`), and its core's loss is as typed in, a
resistor in the netlist. That netlist is a run over time that tells the conversion gain by itself
(`circuits/switching/transient.py`): diodes come out within 0.2 dB of what is computed, transistors some
tenths below it up to 9 MHz and more above, as the closed form knows neither base currents nor capacitances.
"""
