"""The fortnight that the samples are made of."""
