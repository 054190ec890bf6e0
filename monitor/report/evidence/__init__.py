"""The evidence sheet: one line of the verdict and all that it rests on."""
