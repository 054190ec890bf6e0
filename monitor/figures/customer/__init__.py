"""A customer's week."""
