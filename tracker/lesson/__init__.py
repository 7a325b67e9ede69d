"""The live lesson, and millimetres from a photograph."""
