"""Tables of material."""
