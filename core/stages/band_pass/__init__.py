"""Band-passes of coupled resonators: first designed, then fitted, wound, and trimmed."""
