"""What a builder winds: whole turns on a core or a former for a wanted inductance."""
