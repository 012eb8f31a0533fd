"""How a counter shows the dial, and how far off it is."""
