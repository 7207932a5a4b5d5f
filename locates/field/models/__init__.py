"""What our own crews find in the ground."""

from __future__ import annotations

from locates.field.models.backing import Backing
from locates.field.models.device import Device
from locates.field.models.observation import Observation
from locates.field.models.photo import Photo
from locates.field.models.point import Point
from locates.field.models.run import Run
from locates.field.models.soil import SoilFinding

__all__ = ["Backing", "Device", "Observation", "Photo", "Point", "Run", "SoilFinding"]
