"""A rig to begin with: its ordinary stages, and what it is spared."""
