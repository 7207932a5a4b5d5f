"""PURE: when care falls due, where an item is, whether it fits and what it costs. No clock, no framework."""
