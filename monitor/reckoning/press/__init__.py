"""What happens at one press: counters, strip, changes, running time and stops."""
