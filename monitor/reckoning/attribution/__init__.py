"""Which factor moves the scrap, the others held still: the steps behind `monitor.reckoning.attribution.suspects`."""
