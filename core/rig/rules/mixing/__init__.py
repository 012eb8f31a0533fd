"""Rules on mixers: the drive that they get, and what of their oscillators leaves them."""
