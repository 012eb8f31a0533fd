"""Filters as they came out, against what was designed."""
