"""The sheet on which a reason for a stop is tapped, on any page."""
