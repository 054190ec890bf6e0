"""Tables of what happened at the presses."""
