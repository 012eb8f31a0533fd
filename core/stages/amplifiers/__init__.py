"""Amplifiers of a builder's transistors: topologies, their design, and what they do."""
