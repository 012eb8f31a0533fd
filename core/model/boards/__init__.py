"""What a builder puts on boards and panels by hand."""
