"""Crystals as measured: their four figures, from jigs and sweeps, and which goes where."""
