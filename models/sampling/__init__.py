"""How a log density is sampled, and the report that travels with its draws."""
