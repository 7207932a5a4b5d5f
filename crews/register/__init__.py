"""Reads of the equipment register: which rules hold, what is available, what is in doubt, what it costs."""
