"""The stages as a builder asks for them, each with what was really fitted."""
