"""Holds on any page: model, words, view."""
