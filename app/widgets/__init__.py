"""Widgets of our own, and the base of all views."""
