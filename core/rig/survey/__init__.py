"""Which IF: every crystal of the trade against the bands wanted."""
