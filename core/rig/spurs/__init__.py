"""Products of the mixers: what is sent besides, what is heard besides, and how strong."""
