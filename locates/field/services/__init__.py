"""Every write of the locates."""

from __future__ import annotations

from locates.field.services.backing import add_backing, withdraw_backing
from locates.field.services.devices import write_instruments
from locates.field.services.given import DeviceGiven, PipeGiven, PointGiven, RunGiven, SoilGiven
from locates.field.services.photos import LARGEST_BYTES, add_photo
from locates.field.services.pipe import add_observation, describe_pipe, take_out_observation
from locates.field.services.points import add_marks, add_point, take_out_point
from locates.field.services.runs import finish_run, start_run
from locates.field.services.soil import record_soil

__all__ = [
    "LARGEST_BYTES",
    "DeviceGiven",
    "PipeGiven",
    "PointGiven",
    "RunGiven",
    "SoilGiven",
    "add_backing",
    "add_marks",
    "add_observation",
    "add_photo",
    "add_point",
    "describe_pipe",
    "finish_run",
    "record_soil",
    "start_run",
    "take_out_observation",
    "take_out_point",
    "withdraw_backing",
    "write_instruments",
]
