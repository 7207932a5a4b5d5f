"""The photos of the locate report: a few of each run, made small enough for paper."""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from PIL import Image

from locates.field.models import Photo, Run
from locates.field.selectors import photos_of

MOST_A_RUN = 6  # a page of them; all stand on the run's own page
LONGEST_SIDE_PX = 900  # 3 1/2 in at 250 to the inch
SCHEME = "photo:"


@dataclass(frozen=True, slots=True)
class Shown:
    """The photos of a run that the report shows, and how many it leaves out."""

    photos: tuple[Photo, ...] = ()
    left_out: int = 0


def shown_of(runs: Iterable[Run]) -> dict[int, Shown]:
    """By run; one query for all of them."""
    found: dict[int, list[Photo]] = {}
    for photo in photos_of(runs):
        found.setdefault(photo.run_id, []).append(photo)
    return {
        run_id: Shown(tuple(photos[:MOST_A_RUN]), max(0, len(photos) - MOST_A_RUN))
        for run_id, photos in found.items()
    }


def picture(address: str, photos: Mapping[int, Photo]) -> bytes:
    """The JPEG behind `photo:<key>`. Raises ValueError for any other address: a report loads nothing from
    elsewhere."""
    key = address.removeprefix(SCHEME)
    if not (address.startswith(SCHEME) and key.isascii() and key.isdigit() and int(key) in photos):
        raise ValueError(f"A report loads nothing from elsewhere: {address}")
    with photos[int(key)].file.open("rb") as file, Image.open(file) as kept:
        kept.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
        out = io.BytesIO()
        kept.save(out, "JPEG", quality=80)
    return out.getvalue()
