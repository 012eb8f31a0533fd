"""Coils as physics: inductance of windings, wire, losses, flux."""
