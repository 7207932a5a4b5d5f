"""The register as a file: what is wrong is named and nothing saved; what goes out comes in alike."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import date
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from openpyxl import Workbook, load_workbook

from crews import services
from crews.models import Crew, Equipment, Person
from crews.register.sheet import COLUMNS, as_csv, as_xlsx, read_table
from tests.crews.page_people import Clients

Queries = Callable[[int], AbstractContextManager[Any]]
pytestmark = pytest.mark.usefixtures("frozen_now")  # Wed 16 Sep 2026
TODAY = date(2026, 9, 16)
People = dict[str, Person | None]


def sheet(*rows: list[Any], head: str = "kind,name,serial,price,bought_on,crew") -> bytes:
    return "\n".join([head, *(",".join(map(str, row)) for row in rows)]).encode()


def send(client: Client, content: bytes, name: str = "a.csv") -> Any:
    return client.post("/equipment/import/", {"file": SimpleUploadedFile(name, content)})


def test_import_names_each_bad_cell_and_saves_nothing(clients: Clients, item: Equipment) -> None:
    content = sheet(
        ["receiver", "R", "N-1", "100", "2026-01-31", "Alder crew"],
        ["spoon", "", "s-1", "ten", "2026-09-17", "Nobody"],
        ["receiver", "R", "N-1", "-5", "31.1.2026", ""],
    )
    answer = send(clients["owner"], content)
    page = answer.content.decode()
    assert answer.status_code == 400
    cells = re.findall(r'<th scope="row">([A-Z]\d+)</th>', page)
    assert sorted(cells) == sorted(["A3", "B3", "C3", "D3", "E3", "F3", "C2", "C4", "D4", "E4"])
    for words in ("is in the register already", "stands in 2 rows", "has not come yet", "is no date", "active crew"):
        assert words in page, words
    assert Equipment.objects.count() == 1


def test_import_shows_first_and_saves_on_the_second_yes(clients: Clients, crew: Crew) -> None:
    answer = send(clients["owner"], sheet(["receiver", "R", "N-1", "100.50", "2026-01-31", "alder crew"]))
    page = answer.content.decode()
    assert "Nothing is saved yet" in page
    assert not Equipment.objects.exists()
    at = re.search(r'action="(/equipment/import/\d+)"', page)
    assert at is not None
    assert clients["dispatcher"].post(at[1]).status_code == 403
    assert clients["owner"].post(at[1]).headers["Location"] == "/equipment/"
    made = Equipment.objects.get()
    assert (made.crew, str(made.price), made.bought_on) == (crew, "100.50", date(2026, 1, 31))
    again = clients["owner"].post(at[1], follow=True)
    assert "in the register already" in again.content.decode()
    assert Equipment.objects.count() == 1


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"kind,name\nreceiver,R", "missing: serial"),
        (b"kind,name,serial,colour\n", "unknown: colour"),
        (b"kind,name,serial,serial\n", "twice: serial"),
        (b"\xff\xfe\x00", "neither XLSX nor CSV"),
        (b"PK\x03\x04 broken", "cannot be read"),
        (b"kind,name,serial\n" + b"receiver,R,S\n" * 2_001, "at most 2,000"),
    ],
)
def test_a_file_that_cannot_be_read_says_why(clients: Clients, content: bytes, words: str) -> None:
    answer = send(clients["owner"], content)
    assert answer.status_code == 400
    assert words in answer.content.decode()


def test_what_goes_out_comes_in_alike(clients: Clients, item: Equipment, owner: Person) -> None:
    services.change_equipment(item=item, actor=owner, name='=Receiver, "A"', working_load_kg=1814.36948)
    rows = [
        read_table(name, make(Equipment.objects.all())) for name, make in (("a.csv", as_csv), ("a.xlsx", as_xlsx))
    ]
    assert rows[0] == rows[1]
    assert rows[0][0]["name"] == '=Receiver, "A"'
    assert (rows[0][0]["working_load_lb"], rows[0][0]["crew"]) == ("4000", "Alder crew")
    csv_text = b"".join([clients["owner"].get("/equipment/export.csv").content]).decode("utf-8-sig")
    assert csv_text.splitlines()[0] == ",".join(COLUMNS)
    assert "'=Receiver" in csv_text  # no spreadsheet takes it for a formula
    book = load_workbook(io.BytesIO(clients["owner"].get("/equipment/export.xlsx").content))
    assert book.active is not None
    assert book.active["A1"].value == "kind"
    assert clients["owner"].get("/equipment/export.exe").status_code == 404


def test_a_workbook_with_real_dates_is_read(clients: Clients) -> None:
    book, out = Workbook(), io.BytesIO()
    assert book.active is not None
    book.active.append(["kind", "name", "serial", "bought_on", "life_years"])
    book.active.append(["sonde", "S", 1234, date(2026, 2, 28), 4.0])
    book.save(out)
    assert read_table("a.xlsx", out.getvalue()) == [
        {"kind": "sonde", "name": "S", "serial": "1234", "bought_on": "2026-02-28", "life_years": "4"}
    ]
