"""The pages in the middle of the window."""
