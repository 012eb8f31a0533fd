"""The main window and what it opens with."""
