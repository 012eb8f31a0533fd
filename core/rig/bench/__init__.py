"""Measurements read and put to use: crystals, sweeps, tables."""
