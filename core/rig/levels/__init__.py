"""Gain, noise and drive along the signal path."""
