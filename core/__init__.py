"""The model of a transceiver and every computation on it: pure functions, SI units, no window."""
