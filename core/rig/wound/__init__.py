"""Coils of the rig as they are wound."""
