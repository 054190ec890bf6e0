"""Mountings of coils as rows: their strip, what it weighs, and where the coils are."""
