"""Band-passes of coupled resonators: first designed, then fitted, wound, and trimmed.

A band-pass's links and taps on a core have whole turns too, and what is fitted around them, or for broken
ones, whichever reflects less (`stages/band_pass/band_pass.py`). With *Coupling: automatic*, as new rigs
have it, capacitors that wiring would decide are not used; with *Width with Q* the width asked is corrected
for what Q makes of it, and then all is fitted once more with the losses in, to the edges and the least
reflection on the dials (`stages/band_pass/aim.py`), and kept where that is no less wide.
"""
