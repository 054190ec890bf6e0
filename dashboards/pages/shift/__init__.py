"""The page *Shift*: callbacks, model, view."""
