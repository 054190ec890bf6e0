"""Rows that people enter: stops, first-offs, service, notes, holds, actions, with history and undo."""

#: Tables that may be entered.
ENTERED = ("stops", "die_changes", "die_service", "notes", "actions", "holds")
