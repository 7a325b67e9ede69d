"""Records to rows and back: SQLite or PostgreSQL."""
