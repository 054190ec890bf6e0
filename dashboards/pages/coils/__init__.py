"""The page *Coils*: callbacks, model, view."""
