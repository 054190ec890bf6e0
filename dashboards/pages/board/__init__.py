"""The page *Board*: callbacks, model, view."""
