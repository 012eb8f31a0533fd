"""Audio amplifiers of a builder's parts: voltage amplifiers, power stages, what a microphone is to them."""
