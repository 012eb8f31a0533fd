"""What the views draw, as frozen values made by pure functions; nothing here knows of windows."""
