"""Loading files: rows into the ledger in one transaction, and the facts kept in step with them."""
