"""Power stages: load line, conduction, mismatch, heat."""
