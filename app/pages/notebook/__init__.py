"""Pages of what a builder writes down beside the design."""
