"""What the window holds: project with its history, look, file, tasks, recovery."""
