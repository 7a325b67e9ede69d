"""What several pages draw or know."""
