"""What readings of shots are: columns, the table, a session's summary, what a device does."""
