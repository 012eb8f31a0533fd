"""Tests; the code they mirror stands beside them."""

# As the program: before numpy is imported, so that small matrices are solved without threads.
import app  # noqa: F401
