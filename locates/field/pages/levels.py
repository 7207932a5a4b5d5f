"""The quality levels explained, for pages and the report."""

from __future__ import annotations

# What each level means, by ASCE/UESI/CI 38-22 (see locates.ground.quality for how its text was read).
LEVELS = (
    ("D", "From records, marks found on site, or what people say. Nothing surveyed bears it out."),
    ("C", "Records that agree with surveyed features that can be seen: valves, covers, pedestals."),
    ("B", "Detected by geophysics on site, tied to the project's datum, and judged by a professional."),
    (
        "A",
        "Exposed, the target verified, and measured within 0.1 ft vertical, 0.2 ft horizontal: at that place only.",
    ),
)
