"""The page *Trace*: callbacks, model, view."""
