"""What our own crews find in the ground."""

from __future__ import annotations

from locates.field.models.device import Device
from locates.field.models.photo import Photo
from locates.field.models.point import Point
from locates.field.models.run import Run

__all__ = ["Device", "Photo", "Point", "Run"]
