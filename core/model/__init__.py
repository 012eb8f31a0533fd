"""What the builder asked for: frozen, validated, saved to a file. No formulas live here."""
