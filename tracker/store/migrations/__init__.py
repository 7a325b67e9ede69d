"""Steps that bring a database of any earlier version to the tables of this one."""
