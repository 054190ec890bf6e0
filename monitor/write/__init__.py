"""Writing what others open: whole files only, no formula that runs, nothing that a terminal obeys."""
