"""What the plant is and how it stands: plant book, rows as records, state of each press, pace of its order."""
