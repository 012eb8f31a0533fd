"""What feeds the rig."""
