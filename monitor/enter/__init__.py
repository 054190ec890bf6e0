"""Rows that people enter: stops, first-offs, service, notes, holds, actions, with history and undo."""
