"""Where a position lies: its state and its time zone, without a network. Pure."""

from locates.place.resolve import Place, PositionError, resolve

__all__ = ["Place", "PositionError", "resolve"]
