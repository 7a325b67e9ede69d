"""Pure functions from posterior draws to advice."""
