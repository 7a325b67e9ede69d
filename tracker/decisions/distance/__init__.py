"""What a change is worth in carry, in which order, and where a difference comes from."""
