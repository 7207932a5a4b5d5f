"""Writes of photographs, certificates and documents. Type is read from the content, never from the name."""

from __future__ import annotations

import hashlib
import io
import secrets
from datetime import datetime
from typing import Any

from django.core.files.base import ContentFile
from django.db import transaction
from PIL import Image, ImageOps, UnidentifiedImageError

from crews.models import CalendarAddress, Equipment, Kit, OwnKind, Paper, PaperSort, Person
from crews.services.care import Recorded, record_result
from crews.services.guards import need_owner
from tickets.services.refusals import BadInput, Faults, Forbidden, need_office, need_person

MOST_BYTES = 10_000_000
MOST_PIXELS = 50_000_000
LONGEST_SIDE = 2_400
SECRET_BYTES = 24


@transaction.atomic
def add_paper(*, item: Equipment, sort: str, title: str, content: bytes, actor: Person, now: datetime) -> Paper:
    """Keep a PDF or a photograph (JPEG, PNG). A photograph is written anew: smaller, without its position."""
    need_person(actor)
    own = item.person_id == actor.pk or (item.crew_id is not None and item.crew_id == actor.crew_id)
    if not (actor.runs_the_office or own):
        raise Forbidden("You may add to what your crew holds. Ask the office for the rest.")
    faults = Faults()
    if sort not in PaperSort.values:
        faults.add("sort", f"{sort!r} is not known; use one of {', '.join(PaperSort.values)}.")
    faults.refuse()
    kept, media_type, ending = _checked(content)
    paper = Paper(
        item=item,
        sort=sort,
        title=(title.strip() or PaperSort(sort).label)[:120],
        media_type=media_type,
        size_bytes=len(kept),
        sha256=hashlib.sha256(kept).hexdigest(),
        added_by=actor,
        added_at=now,
    )
    paper.file.save(f"{secrets.token_hex(16)}.{ending}", ContentFile(kept), save=False)
    paper.save()
    return paper


def record_result_with_paper(
    *, item: Equipment, certificate: bytes | None, actor: Person, now: datetime, **result: Any
) -> Recorded:
    """A result and its certificate together, or neither."""
    paper: Paper | None = None
    try:
        with transaction.atomic():
            if certificate is not None:
                title = f"{result['key']} {result['done_on']}"
                paper = add_paper(
                    item=item, sort=PaperSort.CERTIFICATE, title=title, content=certificate, actor=actor, now=now
                )
            return record_result(item=item, paper=paper, actor=actor, now=now, **result)
    except Exception:
        if paper is not None:
            paper.file.delete(save=False)  # the row is gone with the transaction, the file is not
        raise


def _checked(content: bytes) -> tuple[bytes, str, str]:
    if not content:
        raise _refusal("The file is empty.")
    if len(content) > MOST_BYTES:
        raise _refusal(f"The file has {len(content) / 1e6:.1f} MB; at most {MOST_BYTES // 1_000_000} MB are kept.")
    if content.startswith(b"%PDF-"):
        return content, "application/pdf", "pdf"
    try:
        with Image.open(io.BytesIO(content), formats=["JPEG", "PNG"]) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise _refusal("The photograph has too many pixels; take a smaller one.")
            is_png = picture.format == "PNG"
            turned = ImageOps.exif_transpose(picture)
            turned.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
            out = io.BytesIO()
            if is_png:
                turned.save(out, "PNG")
                return out.getvalue(), "image/png", "png"
            turned.convert("RGB").save(out, "JPEG", quality=85)
            return out.getvalue(), "image/jpeg", "jpg"
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, Image.DecompressionBombError) as wrong:
        raise _refusal("The file is neither a PDF nor a JPEG or PNG photograph.") from wrong


def _refusal(words: str) -> BadInput:
    return BadInput(words, fields={"file": words})


@transaction.atomic
def make_calendar_address(*, actor: Person, now: datetime) -> str:
    """A new private address of the due dates for this person; the one before ends. The secret is told once."""
    need_office(actor)
    CalendarAddress.objects.filter(person=actor, ended_at=None).update(ended_at=now)
    secret = secrets.token_urlsafe(SECRET_BYTES)
    CalendarAddress.objects.create(person=actor, secret_sha256=digest(secret), made_at=now)
    return secret


def digest(secret: str) -> str:
    """What is kept of a secret."""
    return hashlib.sha256(secret.encode()).hexdigest()


@transaction.atomic
def add_kit(*, name: str, note: str = "", actor: Person) -> Kit:
    """A set of items that go out together."""
    need_office(actor)
    return _named(Kit, name, note=note.strip())


@transaction.atomic
def add_own_kind(*, name: str, actor: Person) -> OwnKind:
    """A kind of the company's own."""
    need_owner(actor)
    return _named(OwnKind, name)


def _named(model: Any, name: str, **more: Any) -> Any:
    faults = Faults()
    faults.need(name=name)
    if model.objects.filter(name__iexact=name.strip()).exists():
        faults.add("name", f"{name.strip()!r} is there already.")
    faults.refuse()
    return model.objects.create(name=name.strip(), **more)
