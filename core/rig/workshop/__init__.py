"""The rig at the bench: what is read where, in which order it is built, how it is aligned and checked."""
