"""The promise kept: what was promised of a change, against what was found."""
