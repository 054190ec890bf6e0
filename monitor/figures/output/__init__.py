"""What was made and when: shifts, hours, stops, scrap, files loaded."""
