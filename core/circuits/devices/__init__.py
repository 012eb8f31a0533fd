"""Devices by the figures of their data sheets, before any circuit."""
