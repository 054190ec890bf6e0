"""What became of the strip: mountings, coils, their accounts, where a coil is."""
