"""The same answers from a shell."""
