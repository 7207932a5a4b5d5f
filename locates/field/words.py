"""The words of a locate run, once, for choices, guards and pages. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Any

from locates.ground.lengths import LengthUnit
from locates.ground.pipe import PlumbingCode
from locates.ground.quality import GEOPHYSICS, Method
from locates.ground.trench import Soil


class PositionBy(StrEnum):
    """How the points of a run got their places."""

    PHONE = "phone"
    RTK = "rtk"
    BASELINE = "baseline"
    FILE = "file"


class DeviceKind(StrEnum):
    RECEIVER = "receiver"
    TRANSMITTER = "transmitter"
    SONDE = "sonde"
    CLAMP = "clamp"
    CAMERA_REEL = "camera_reel"


class BackingKind(StrEnum):
    """What a quality level rests on besides a run's points: what was done, never what is wished."""

    SURVEYED = "surveyed"
    FEATURES = "features"
    AGREE = "agree"
    JUDGED = "judged"
    SEALED = "sealed"


class Placed(StrEnum):
    """What was left on the ground at a point."""

    NOTHING = "nothing"
    PAINT = "paint"
    FLAG = "flag"
    STAKE = "stake"


METHODS = [(method.name.lower(), method.value.capitalize()) for method in Method]
# Induction and clamp come before what is only looked up; a reading of depth needs a receiver over a signal.
DEPTH_METHODS = GEOPHYSICS - {Method.PASSIVE_POWER, Method.PASSIVE_RADIO}
POSITION_WORDS = {
    PositionBy.PHONE: "The phone's position",
    PositionBy.RTK: "Satellite receiver with corrections",
    PositionBy.BASELINE: "Offsets along a baseline from two fixed marks",
    PositionBy.FILE: "From a file",
}
DEVICE_WORDS = {kind: str(kind).replace("_", " ").capitalize() for kind in DeviceKind}
BACKING_WORDS = {
    BackingKind.SURVEYED: "The marks were surveyed to the project's datum",
    BackingKind.FEATURES: "Visible features were surveyed, and the records agree with them",
    BackingKind.AGREE: "Another method found the same line",
    BackingKind.JUDGED: "A professional judged the readings",
    BackingKind.SEALED: "A licensed professional seals the level",
}
SOIL_WORDS = {
    Soil.UNKNOWN: "Not classified: reckon with 1 1/2 to 1",
    Soil.ROCK: "Stable rock",
    Soil.A: "Type A: stiff clay, undisturbed, dry, without cracks",
    Soil.B: "Type B: firm, or once disturbed",
    Soil.C: "Type C: soft, sandy, wet or moving",
}
PLUMBING_WORDS = {PlumbingCode.IPC: "International Plumbing Code", PlumbingCode.UPC: "Uniform Plumbing Code"}
PLACED_WORDS = {
    Placed.NOTHING: "Nothing placed",
    Placed.PAINT: "Paint",
    Placed.FLAG: "Flag",
    Placed.STAKE: "Stake",
}
UNIT_WORDS = {
    LengthUnit.INCH: "inches",
    LengthUnit.FOOT: "feet",
    LengthUnit.METRE: "metres",
}
# APWA colour code by utility: the colour's name always stands beside the swatch. What is not known has none.
COLOUR_WORDS = {
    "power": "red",
    "gas": "yellow",
    "communications": "orange",
    "water": "blue",
    "reclaimed": "purple",
    "sewer": "green",
    "other": "no uniform colour",
    "unknown": "no uniform colour",
}
# Letters on plans and paint (common practice, no source).
LETTERS = {
    "power": "E",
    "gas": "G",
    "communications": "C",
    "water": "W",
    "reclaimed": "RW",
    "sewer": "S",
    "other": "X",
    "unknown": "?",
}


def method_of(word: str) -> Method:
    """The engine's method of a stored word."""
    return Method[word.upper()]


def pairs(words: Mapping[Any, str]) -> list[tuple[str, str]]:
    """A table of words as a field's choices."""
    return [(str(word), said) for word, said in words.items()]
