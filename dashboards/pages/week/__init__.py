"""The page *Week*: callbacks, model, view."""
