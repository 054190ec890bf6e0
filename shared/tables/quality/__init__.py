"""Tables of looks at pieces and what was decided."""
