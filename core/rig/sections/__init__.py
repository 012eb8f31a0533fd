"""The tables of a rig, and those of its power amplifier, audio and supply."""
