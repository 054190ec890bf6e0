"""The command `strokeledger`: `main`, and a module for each group of commands, imported when it is asked for."""
