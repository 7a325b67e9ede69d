"""The hierarchical model of tendencies: density, smoother, live update, closed form."""
