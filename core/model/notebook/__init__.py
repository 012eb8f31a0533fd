"""What a builder writes down beside the design: parts on hand, and what was read on the bench."""
