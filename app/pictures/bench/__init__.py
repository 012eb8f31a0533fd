"""Pictures of the bench: crystals, scattered parts, counter, and which IF."""
