"""Photographs beside the project: kept, found again, and decoded with care."""
