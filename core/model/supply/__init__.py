"""What feeds the rig, as it is asked."""
