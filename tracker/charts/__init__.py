"""Pictures as plain chart builders: numbers already in shown units go in, a chart comes out."""
