"""Photos: read by their content, kept without the camera's record, shown to those who may see the run."""

from __future__ import annotations

import io
import uuid
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from locates.errors import FirstspadeError
from locates.field.models import Photo, Run
from locates.field.services import photos
from tests.locates.field.making import add, start
from tickets.models import Job

pytestmark = pytest.mark.usefixtures("frozen_now")


@pytest.fixture
def run(job: Job, people: dict[str, Any], settings: Any, tmp_path: Path) -> Run:
    settings.MEDIA_ROOT = tmp_path
    return start(job, people["member"])


def picture(kind: str = "JPEG", size: tuple[int, int] = (40, 20), orientation: int = 1) -> bytes:
    """A small picture with a maker, a place in its record, and an orientation."""
    exif = Image.Exif()
    exif[0x0112], exif[0x010F] = orientation, "Maker"
    exif[0x8825] = {1: "N", 2: (37.0, 24.0, 0.0)}
    out = io.BytesIO()
    Image.new("RGB", size, "red").save(out, kind, exif=exif)
    return out.getvalue()


def send(client: Client, run: Run, content: bytes, **given: Any) -> Any:
    file = SimpleUploadedFile("p.jpg", content)
    return client.post(f"/locates/runs/{run.pk}/photos", {"client_id": str(uuid.uuid4()), "photo": file, **given})


def test_what_the_camera_wrote_is_left_out_and_the_picture_stands_upright(
    clients: dict[str, Client], run: Run
) -> None:
    assert send(clients["member"], run, picture(orientation=6), words="Flag at the gate").status_code == 302
    kept = Photo.objects.get()
    assert (kept.width_px, kept.height_px) == (20, 40)
    address = f"/locates/runs/{run.pk}/photos/{kept.pk}"
    answer = clients["member"].get(address)
    content = b"".join(answer.streaming_content)
    assert b"Maker" not in content
    with Image.open(io.BytesIO(content)) as shown:
        assert (shown.format, shown.size, dict(shown.getexif())) == ("JPEG", (20, 40), {})
    assert clients["other"].get(address).status_code == 404
    assert clients["other"].get(f"/locates/runs/{run.pk}/photos").status_code == 404


def test_the_runs_own_page_shows_them(clients: dict[str, Client], run: Run) -> None:
    assert "<h2>Photos</h2>" not in clients["member"].get(f"/locates/runs/{run.pk}/").content.decode()
    send(clients["member"], run, picture(), words="Flag <b>at</b> the gate")
    page = clients["member"].get(f"/locates/runs/{run.pk}/").content.decode()
    assert f'src="/locates/runs/{run.pk}/photos/{Photo.objects.get().pk}"' in page
    assert "Flag &lt;b&gt;at&lt;/b&gt; the gate (" in page


@pytest.mark.parametrize("content", [b"<svg/>", b"GIF89a", picture()[:200], b""])
def test_what_is_no_photo_is_refused_beside_the_field(clients: dict[str, Client], run: Run, content: bytes) -> None:
    answer = send(clients["member"], run, content)
    assert answer.status_code == 400
    assert answer.context["form"].errors["photo"]
    assert not Photo.objects.exists()


def test_a_large_photo_is_made_smaller_and_a_huge_one_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    _, size = photos.cleaned(picture("PNG", (3000, 1500)))
    assert size == (2000, 1000)
    monkeypatch.setattr(photos, "MOST_PIXELS", 100)
    with pytest.raises(FirstspadeError, match="too many"):
        photos.cleaned(picture())
    monkeypatch.setattr(photos, "LARGEST_BYTES", 10)
    with pytest.raises(FirstspadeError, match="is the most"):
        photos.cleaned(picture())


def test_a_point_that_is_not_there(clients: dict[str, Client], run: Run) -> None:
    answer = send(clients["member"], run, picture(), point_number=7)
    assert "No such point" in answer.context["form"].errors["point_number"][0]


def post(client: Client, run: Run, **given: Any) -> Any:
    file = SimpleUploadedFile("p.jpg", picture(), "image/jpeg")
    body = {"client_id": str(uuid.UUID(int=5)), "photo": file, **given}
    return client.post(f"/api/v1/locate-runs/{run.pk}/photos", body, headers={"Idempotency-Key": body["client_id"]})


def test_over_the_api_a_photo_sent_twice_is_kept_once(clients: dict[str, Client], run: Run, people: Any) -> None:
    point = add(run, people["member"], 1, 1)
    given = {"point_client_id": str(point.client_id), "words": "Flag"}
    first, again = (post(clients["member"], run, **given) for _ in range(2))
    assert [first.status_code, again.status_code] == [201, 201]
    assert first.json() == again.json()
    assert (first.json()["point_number"], first.json()["words"]) == (1, "Flag")
    assert Photo.objects.count() == 1
    assert post(clients["other"], run).status_code == 404
    assert post(clients["stranger"], run).status_code == 403


def test_a_photo_before_its_point_waits(clients: dict[str, Client], run: Run) -> None:
    answer = post(clients["member"], run, point_client_id=str(uuid.uuid4()))
    assert answer.status_code == 400
    assert "point_client_id" in answer.json()["errors"]
    assert not Photo.objects.exists()
    assert post(clients["member"], run).status_code == 201
