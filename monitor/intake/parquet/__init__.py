"""Parquet files to raw rows, with what they claim checked before it is believed."""
