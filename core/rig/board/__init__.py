"""Boards with islands, the whole rig and its panels, drawn to scale."""
