"""Every write of the locates."""

from __future__ import annotations

from locates.field.services.given import DeviceGiven, PointGiven, RunGiven
from locates.field.services.photos import LARGEST_BYTES, add_photo
from locates.field.services.points import add_marks, add_point, take_out_point
from locates.field.services.runs import finish_run, start_run

__all__ = [
    "LARGEST_BYTES",
    "DeviceGiven",
    "PointGiven",
    "RunGiven",
    "add_marks",
    "add_photo",
    "add_point",
    "finish_run",
    "start_run",
    "take_out_point",
]
