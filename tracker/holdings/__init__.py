"""What is held as a whole, of one player or of everybody, and how it leaves and comes back."""
