"""Parts that are really taken for a filter: preferred values and whole turns, and the rest fitted around."""
