"""What the whole rig knows of its power amplifier: facts, drive, exposure."""
