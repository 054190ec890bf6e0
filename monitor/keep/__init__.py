"""Keeping a ledger: which versions stay, backup and restore."""

#: How long what was superseded can be looked up, unless a pin keeps it [days].
KEPT_DAYS = 7.0
