"""One file a plot; `base` holds what they share."""
