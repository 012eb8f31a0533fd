"""Sketches of what is known in outline: mixers, crystal oscillators, and the rig as blocks."""
