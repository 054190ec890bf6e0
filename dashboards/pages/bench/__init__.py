"""The page *Bench*: callbacks, model, view."""
