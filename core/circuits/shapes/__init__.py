"""Normalised filters: elements and couplings of a response, before any frequency or resistance."""
