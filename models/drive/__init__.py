"""One drive: delivery to ball to carry, run and side; and missed readings from the ball."""
