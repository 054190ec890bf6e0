"""Keeping a ledger: which versions stay, backup and restore."""
