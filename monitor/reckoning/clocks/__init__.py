"""Clocks of counters: off against what was noted, and jumps."""
