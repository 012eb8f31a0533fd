"""Filters of a builder's parts: ladder, band-pass, low-pass; and the carrier at the ladder's edge."""
