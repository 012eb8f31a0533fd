"""Mixers: circuits that an oscillator switches."""
