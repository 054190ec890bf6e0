"""The page *Die*: callbacks, model, view."""
