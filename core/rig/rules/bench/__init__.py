"""Rules on what is built on the bench."""
