"""CSV files to raw rows."""
