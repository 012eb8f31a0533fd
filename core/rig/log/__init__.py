"""The bench log against what is expected: verdicts, causes, and readings taken into the design."""
