"""One file a step; the newest is ``store_tables.SCHEMA_REVISION``."""
