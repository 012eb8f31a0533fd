"""Cards that several views of stages have."""
