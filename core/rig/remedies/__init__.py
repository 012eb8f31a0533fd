"""Remedies as edits: what mends a finding, tried on the whole rig before it is offered."""
