"""Pieces after they left the press: looks at them, containers, genealogy, how far back to sort."""
