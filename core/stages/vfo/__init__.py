"""The LC VFO: its tank, range, start-up, drift and what stills it."""
