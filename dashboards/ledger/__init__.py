"""What pages may ask of the ledger, and enter into it."""
