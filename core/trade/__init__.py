"""The trade's data and rules; every table row names its source."""
