"""What only the whole rig knows: frequencies, spurs, levels, findings, and the sheet as data."""
