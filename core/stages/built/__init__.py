"""Filters as they come out: what tolerances make of them, and what a measured curve tells of the parts."""
