"""Tables of the plant book."""
