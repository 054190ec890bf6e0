"""Invented plants: what a plant hands over, and what must come out of it."""
