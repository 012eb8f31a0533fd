"""Pictures of one stage."""
