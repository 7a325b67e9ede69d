"""The drive's constants learned from a squad's own balls."""
