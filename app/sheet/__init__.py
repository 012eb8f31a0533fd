"""Paper: schematics, pages, printing."""
