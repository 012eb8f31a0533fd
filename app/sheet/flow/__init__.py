"""Blocks laid out: measured in points, cut where they may be, and filled into pages."""
