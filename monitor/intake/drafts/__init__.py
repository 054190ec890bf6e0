"""A column profile proposed for a file that nobody has described yet."""
