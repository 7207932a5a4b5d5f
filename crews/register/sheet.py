"""The register as a table (CSV, XLSX): reading names each bad cell before anything is saved; writing."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from openpyxl import Workbook, load_workbook
from openpyxl.utils import get_column_letter
from openpyxl.utils.exceptions import InvalidFileException

from crews.equipment.fit import MOST_VOLTS
from crews.equipment.money import Asset, Method
from crews.equipment.refusal import EquipmentError
from crews.models import Crew, Equipment, EquipmentKind
from locates.errors import FirstspadeError

MOST_ROWS = 2_000
MOST_BYTES = 5_000_000
KG_PER_LB = Decimal("0.45359237")  # exact: international yard and pound agreement, 1959
# A spreadsheet takes such a text for a formula; written with a mark before it, which reading takes off.
FORMULA = ("=", "+", "-", "@", "\t")


class SheetRefused(FirstspadeError):
    """The file as a whole cannot be read."""

    code = "sheet_refused"


@dataclass(frozen=True, slots=True)
class BadCell:
    """One cell that cannot be used; `cell` as a spreadsheet names it."""

    row: int
    column: str
    cell: str
    given: str
    words: str


@dataclass(frozen=True, slots=True)
class Checked:
    """What a file would add, and what is wrong with it."""

    rows: tuple[dict[str, str], ...]
    bad: tuple[BadCell, ...]


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text[:10])
    except ValueError:
        raise ValueError("is no date; write 2026-09-17") from None


def _past_day(today: date) -> Callable[[str], date]:
    def read(text: str) -> date:
        day = _day(text)
        if day > today:
            raise ValueError("has not come yet")
        return day

    return read


def _money(text: str) -> Decimal:
    try:
        amount = Decimal(text.replace("$", "").replace(",", ""))
    except InvalidOperation:
        raise ValueError("is no amount; write 1250.00") from None
    if not amount.is_finite() or amount < 0 or amount >= 10**10:
        raise ValueError("must be zero or more")
    return amount.quantize(Decimal("0.01"))


def _years(text: str) -> int:
    if not text.isdigit() or not 1 <= int(text) <= 50:
        raise ValueError("is no number of years; write a whole number from 1 to 50")
    return int(text)


def _pounds(text: str) -> float:
    try:
        pounds = Decimal(text.replace(",", ""))
    except InvalidOperation:
        raise ValueError("is no weight; write pounds, as in 4000") from None
    if not pounds.is_finite() or not 0 < pounds < 10**6:
        raise ValueError("must lie above zero")
    return float(pounds * KG_PER_LB)


def _frequencies(text: str) -> list[int]:
    parts = [part.strip() for part in text.replace(",", ";").split(";") if part.strip()]
    if not all(part.isdigit() and 0 < int(part) <= 1_000_000 for part in parts):
        raise ValueError("wants whole hertz with a semicolon between, as in 512; 8192")
    return [int(part) for part in parts]


def _one_of(words: Iterable[str]) -> Callable[[str], str]:
    known = list(words)

    def read(text: str) -> str:
        word = text.strip().lower().replace(" ", "_")
        if word not in known:
            raise ValueError(f"is not known; use one of {', '.join(known)}")
        return word

    return read


def _text(most: int) -> Callable[[str], str]:
    def read(text: str) -> str:
        if len(text) > most:
            raise ValueError(f"is longer than {most} characters")
        return text

    return read


def _readers(today: date) -> dict[str, Callable[[str], Any]]:
    past = _past_day(today)
    return {
        "kind": _one_of(EquipmentKind.values),
        "name": _text(80),
        "serial": _text(60),
        "maker_words": _text(120),
        "crew": _text(80),
        "calibration_due_on": _day,
        "put_in_service_on": past,
        "bought_on": past,
        "price": _money,
        "tax": _money,
        "salvage": _money,
        "life_years": _years,
        "method": _one_of(Method),
        "frequencies_hz": _frequencies,
        "working_load_lb": _pounds,
        "voltage_class": _one_of(MOST_VOLTS),
        "note": _text(2_000),
    }


COLUMNS = tuple(_readers(date.max))
NEEDED = ("kind", "name", "serial")


def read_table(file_name: str, content: bytes) -> list[dict[str, str]]:
    """The rows of a CSV or XLSX file as texts, by column. Raises SheetRefused."""
    if len(content) > MOST_BYTES:
        raise SheetRefused(f"The file has {len(content):,} bytes; at most {MOST_BYTES:,} are read.")
    lines = _xlsx(content) if content[:2] == b"PK" else _csv(content, file_name)
    if not lines:
        raise SheetRefused(f"{file_name} is empty; the first row holds the columns.")
    head = [cell.strip().lower().replace(" ", "_") for cell in lines[0]]
    unknown = [name for name in head if name and name not in COLUMNS]
    missing = [name for name in NEEDED if name not in head]
    twice = sorted({name for name in head if name and head.count(name) > 1})
    if unknown or missing or twice:
        said = [
            f"{word} {', '.join(names)}"
            for word, names in (("unknown:", unknown), ("missing:", missing), ("twice:", twice))
            if names
        ]
        raise SheetRefused(f"The first row does not fit ({'; '.join(said)}). Columns are {', '.join(COLUMNS)}.")
    body = [line for line in lines[1:]]
    if len(body) > MOST_ROWS:
        raise SheetRefused(f"{len(body):,} rows; at most {MOST_ROWS:,} at a time.")
    return [_row(head, line) for line in body]


def _row(head: list[str], line: list[str]) -> dict[str, str]:
    texts = {name: text.strip() for name, text in zip(head, line, strict=False) if name}
    return {name: text[1:] if text[:1] == "'" and text[1:2] in FORMULA else text for name, text in texts.items()}


def _csv(content: bytes, file_name: str) -> list[list[str]]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        raise SheetRefused(f"{file_name} is neither XLSX nor CSV in UTF-8; save it as one of them.") from wrong
    if "\0" in text:
        raise SheetRefused(f"{file_name} is no text; save it as CSV or XLSX.")
    try:
        return [row for row in csv.reader(io.StringIO(text), strict=True)]
    except csv.Error as wrong:
        raise SheetRefused(f"{file_name} is no proper CSV: {wrong}.") from wrong


def _xlsx(content: bytes) -> list[list[str]]:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if sum(part.file_size for part in packed.infolist()) > 20 * MOST_BYTES:
                raise SheetRefused("The workbook unpacks to more than is read; split it.")
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        rows = sheet.iter_rows(max_row=MOST_ROWS + 2, max_col=len(COLUMNS) + 10, values_only=True)
        lines = [[_plain(value) for value in row] for row in rows]
    except (InvalidFileException, zipfile.BadZipFile, KeyError, ValueError, IndexError, OSError) as wrong:
        raise SheetRefused(f"The workbook cannot be read: {wrong}.") from wrong
    while lines and not any(lines[-1]):
        lines.pop()
    return lines


def _plain(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)


def check_rows(rows: list[dict[str, str]], today: date) -> Checked:
    """Every bad cell of every row; two queries however many rows."""
    readers, bad = _readers(today), []
    crews = {name.casefold() for name in Crew.objects.filter(active=True).values_list("name", flat=True)}
    given = [row.get("serial", "").casefold() for row in rows]
    known = {serial.casefold() for serial in Equipment.objects.values_list("serial", flat=True)} & set(given)
    for number, row in enumerate(rows, start=2):
        if not any(row.values()):
            continue
        faults = dict(_faults(row, readers))
        serial = row.get("serial", "").casefold()
        if serial in known:
            faults.setdefault("serial", "is in the register already")
        elif serial and given.count(serial) > 1:
            faults.setdefault("serial", f"stands in {given.count(serial)} rows of this file")
        if row.get("crew") and row["crew"].casefold() not in crews:
            faults.setdefault("crew", "is not the name of an active crew")
        head = list(row)
        for column, words in faults.items():
            letter = get_column_letter(head.index(column) + 1) if column in head else "?"
            bad.append(BadCell(number, column, f"{letter}{number}", row.get(column, ""), words))
    return Checked(tuple(row for row in rows if any(row.values())), tuple(bad))


def _faults(row: Mapping[str, str], readers: Mapping[str, Callable[[str], Any]]) -> Iterable[tuple[str, str]]:
    for column in NEEDED:
        if not row.get(column):
            yield column, "is empty; fill it in"
    read: dict[str, Any] = {}
    for column, text in row.items():
        if text:
            try:
                read[column] = readers[column](text)
            except ValueError as wrong:
                yield column, str(wrong)
    if "price" in read:
        try:
            Asset(read["price"] + read.get("tax", 0), read.get("salvage", Decimal(0)), read.get("life_years", 1))
        except EquipmentError as refused:
            column = "salvage" if "salvage" in refused.fields else "price"
            yield column, next(iter(refused.fields.values()))


def facts_of(row: Mapping[str, str], today: date) -> dict[str, Any]:
    """A checked row as the register's fields; `crew` stays a name."""
    readers = _readers(today)
    facts = {column: readers[column](text) for column, text in row.items() if text}
    if "working_load_lb" in facts:
        facts["working_load_kg"] = facts.pop("working_load_lb")
    return facts


def table(items: Iterable[Equipment]) -> Iterable[list[str]]:
    """Head and rows of the register, such as `read_table` takes them."""
    yield list(COLUMNS)
    for item in items:
        yield [_written(item, column) for column in COLUMNS]


def _written(item: Equipment, column: str) -> str:
    if column == "working_load_lb":
        pounds = None if item.working_load_kg is None else Decimal(str(item.working_load_kg)) / KG_PER_LB
        return "" if pounds is None else f"{pounds:.0f}"
    value = getattr(item, column)
    if column == "frequencies_hz":
        return "; ".join(str(hz) for hz in value)
    if column == "crew":
        return value.name if value is not None else ""
    text = "" if value is None else str(value)
    return f"'{text}" if text[:1] in FORMULA else text


def as_csv(items: Iterable[Equipment]) -> bytes:
    """CSV in UTF-8 with the mark by which spreadsheets know it."""
    out = io.StringIO()
    csv.writer(out).writerows(table(items))
    return out.getvalue().encode("utf-8-sig")


def as_xlsx(items: Iterable[Equipment]) -> bytes:
    """A workbook with one sheet of texts."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Equipment")
    for line in table(items):
        sheet.append(line)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
