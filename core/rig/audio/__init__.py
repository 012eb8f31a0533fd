"""Audio as a whole: what its stages do at their places, and what speech passes from one end to the other."""
