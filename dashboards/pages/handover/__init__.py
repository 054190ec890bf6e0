"""The page *Handover*: callbacks, model, view."""
