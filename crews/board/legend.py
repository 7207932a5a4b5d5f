"""What the chart's textures mean, in words. Pure."""

from __future__ import annotations

# (texture, words); the texture is a class in look/verdict.css and a pattern on the chart
LEGEND: tuple[tuple[str, str], ...] = (
    ("waiting", "the wait"),
    ("open", "window open"),
    ("closing", "closing soon"),
    ("closed", "over"),
    ("stop", "stop"),
    ("unknown", "not known: do not dig"),
    ("emergency", "emergency dig"),
)
