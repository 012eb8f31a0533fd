"""What the rig draws, what feeds it, and how it is switched."""
