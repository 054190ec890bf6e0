"""A plant played stroke by stroke: the truth is known exactly and owes nothing to the product's reckoning."""
