"""Gain, noise and drive along the signal path.

A path is runs of stages between mixers (`rig/levels/chain.py`). Inside a run each stage is a noisy two-port
at the signal, at the image and at the tones beside it (`blocks.tones`): filters from their network at 290
K, amplifiers from their circuit; where figures are all that is known a matched block, whose input sends out
noise as a resistor does. One row vector carried from the source gives gain, noise of each stage by itself,
and what the mixer's port gets (`circuits/active/along.py`), so that stages that an edit leaves alone come
out of a cache. Levels at a place are into 50 Ω, or into the mixer's port at a run's end; a block then has
the gain of its place, while its intercept and compression stay at its output. Blocks alone give Friis' sum
to 1e-9 dB. Controls are full up for noise and S9, and turned down for a strong station.
"""
