"""The plant: its book, rows as records, the state of each press, the pace of its order."""
