"""Taking in a photo: type and size checked by its content, what the camera wrote into it left out."""

from __future__ import annotations

import hashlib
import io
import uuid
from datetime import datetime
from typing import Any

from django.core.files.base import ContentFile
from django.db import transaction
from PIL import Image, ImageOps, UnidentifiedImageError

from locates.field.models import Photo, Run
from tickets.services.refusals import BadInput, Conflict, need_person

LARGEST_BYTES = 15_000_000
MOST_PIXELS = 60_000_000
LONGEST_SIDE_PX = 2000
MOST_A_RUN = 60
KINDS = ("JPEG", "PNG", "WEBP")


@transaction.atomic
def add_photo(
    *,
    run: Run,
    client_id: uuid.UUID,
    content: bytes,
    actor: Any,
    now: datetime,
    words: str = "",
    point_number: int | None = None,
    point_client_id: uuid.UUID | None = None,
) -> Photo:
    """A photo of a run, also after it was finished; of a point by its number or by its phone's id. Sent
    again with the same id it changes nothing."""
    need_person(actor)
    run = Run.objects.select_for_update().get(pk=run.pk)
    found = Photo.objects.filter(client_id=client_id).first()
    if found is not None:
        if found.run_id != run.pk:
            raise Conflict("That id stands for a photo of another run. Give the photo an id of its own.")
        return found
    if Photo.objects.filter(run=run).count() >= MOST_A_RUN:
        raise _refused(f"This run has {MOST_A_RUN} photos already; no more fit.")
    if point_client_id is not None:
        point_number = run.points.filter(client_id=point_client_id).values_list("number", flat=True).first()
        if point_number is None:
            words_for_it = "The photo's point has not arrived. Send the point first."
            raise BadInput(words_for_it, fields={"point_client_id": "no such point of this run."})
    if point_number is not None and not run.points.filter(number=point_number).exists():
        raise BadInput(f"There is no point {point_number}.", fields={"point_number": "no such point of this run."})
    clean, size = cleaned(content)
    return Photo.objects.create(
        client_id=client_id,
        run=run,
        point_number=point_number,
        file=ContentFile(clean, name=f"{client_id}.jpg"),
        width_px=size[0],
        height_px=size[1],
        sha256=hashlib.sha256(clean).hexdigest(),
        words=words.strip()[:200],
        by=actor,
        added_at=now,
    )


def cleaned(content: bytes) -> tuple[bytes, tuple[int, int]]:
    """The picture as a JPEG of moderate size, upright, with nothing of the camera's own record (place, time,
    owner), and its size in pixels. Refuses what is no picture, and one too large."""
    if len(content) > LARGEST_BYTES:
        raise _refused(f"The photo has {len(content) / 1e6:.0f} MB; {LARGEST_BYTES / 1e6:.0f} MB is the most.")
    try:
        with Image.open(io.BytesIO(content), formats=KINDS) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise _refused(
                    f"The photo has {picture.width} by {picture.height} pixels: too many. Make it smaller."
                )
            upright = ImageOps.exif_transpose(picture).convert("RGB")
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        raise _refused("The file is no photo that can be read. Send a JPEG, PNG or WebP.") from None
    upright.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    # a new picture holds the pixels and nothing else
    bare = Image.new("RGB", upright.size)
    bare.paste(upright)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=85, optimize=True)
    return out.getvalue(), bare.size


def _refused(words: str) -> BadInput:
    return BadInput(words, fields={"photo": words})
