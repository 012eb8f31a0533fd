"""Power amplifiers built of parts."""
