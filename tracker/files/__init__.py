"""CSV files to records, or every problem at once."""
