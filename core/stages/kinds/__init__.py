"""One table of the kinds of stages: what each is called, and how it is designed and counted."""
