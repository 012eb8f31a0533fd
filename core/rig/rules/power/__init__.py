"""Rules on what gets hot, loud or dead: power amplifier, audio, supply."""
