"""Tests of the figure tables: sums over facts, worked by hand."""
