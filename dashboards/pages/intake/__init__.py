"""The page *Intake*: callbacks, model, view."""
