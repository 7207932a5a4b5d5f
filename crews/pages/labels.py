"""Labels with a QR code as a PDF sheet: 30 to a letter page, 2-5/8 by 1 inch (common label stock)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import segno
from django.template.loader import render_to_string
from weasyprint import CSS, HTML

from crews.models import Equipment

A_PAGE = 30
MOST_LABELS = 300
SHEET = """
@page { size: letter; margin: 0.5in 0.1875in; }
body { margin: 0; font: 7.5pt/1.25 sans-serif; color: #000; }
.sheet { display: block; page-break-after: always; }
.sheet:last-child { page-break-after: auto; }
.label { float: left; width: 2.625in; height: 1in; margin-right: 0.115in; overflow: hidden; }
.label:nth-child(3n) { margin-right: 0; }
.label img { float: left; width: 0.84in; height: 0.84in; margin: 0.08in 0.08in 0 0.08in; }
.label p { margin: 0; }
.label .name { padding-top: 0.1in; font-weight: bold; font-size: 8.5pt; max-height: 0.36in; overflow: hidden; }
.label .code { font-family: monospace; font-size: 9pt; letter-spacing: 0.05em; padding-top: 0.02in; }
"""


def label_sheet(items: Sequence[Equipment], address: str) -> bytes:
    """The PDF; `address` is what a code is appended to. The pictures lie in the page: nothing is fetched."""
    labels = [{"item": item, "qr": qr_code(f"{address}{item.code}")} for item in items]
    pages = [labels[start : start + A_PAGE] for start in range(0, len(labels), A_PAGE)]
    text = render_to_string("crews/equipment/labels.html", {"pages": pages})
    made: Any = HTML(string=text).write_pdf(stylesheets=[CSS(string=SHEET)])
    return bytes(made)


def qr_code(text: str) -> str:
    """The QR code (ISO/IEC 18004, error correction M) as a data address of an SVG."""
    made = segno.make(text, error="m", micro=False)
    return str(made.svg_data_uri(scale=4, border=2, xmldecl=False))
