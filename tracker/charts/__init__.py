"""Pictures as plain figure builders: numbers already in shown units go in, a figure comes out."""
