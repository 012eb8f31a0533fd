"""Pictures of the panels around the pages."""
