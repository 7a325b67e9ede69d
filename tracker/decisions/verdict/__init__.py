"""Real or noise: windows, threshold, verdict, what would settle it, retest."""
