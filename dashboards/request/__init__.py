"""What a request says: its address, language, units and how numbers are written."""
