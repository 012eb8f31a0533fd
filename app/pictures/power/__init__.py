"""Pictures of what gets hot."""
