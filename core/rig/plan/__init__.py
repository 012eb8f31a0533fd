"""Where everything lies in frequency, and what the filters leave of it."""
