"""Pictures of the whole rig."""
