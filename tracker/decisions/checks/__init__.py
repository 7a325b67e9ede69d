"""Whether a fit's own shots look like the squad's."""
