"""What a report says, section by section."""
