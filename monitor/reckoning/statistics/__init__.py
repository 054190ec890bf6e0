"""Charts, intervals, capability, change points, wear: published methods."""
