"""Parts of supplies in the trade."""
