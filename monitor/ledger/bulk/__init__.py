"""Bulk rows: immutable Parquet files and the register of their parts."""
