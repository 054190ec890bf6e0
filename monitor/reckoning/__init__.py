"""Pure functions on arrays and frames: no files, no clock, no settings."""
