"""General circuit theory, without a thought of transceivers: arrays in, arrays out, frequency last."""
