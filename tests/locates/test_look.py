"""The look holds what it promises: contrast, textures instead of hues, no style outside the style sheets.

Contrast by WCAG 2.2 (W3C Recommendation, definitions of relative luminance and contrast ratio; success
criteria 1.4.3, 1.4.6 and 1.4.11).
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from locates.templatetags.say import texture
from tickets.states import State

ROOT = Path(__file__).resolve().parents[2]
LOOK = ROOT / "locates" / "static" / "look"
APPS = [ROOT / name for name in ("locates", "tickets", "crews")]
SCHEMES = ("light", "dark")


def declared(scheme: str) -> dict[str, str]:
    """Every token of tokens.css that is a plain colour, as the scheme sees it."""
    light, dark = (LOOK / "tokens.css").read_text(encoding="utf-8").split("@media (prefers-color-scheme: dark)")
    pattern = re.compile(r"--([a-z-]+):\s*(#[0-9a-f]{6})\s*;")
    return dict(pattern.findall(light)) | (dict(pattern.findall(dark)) if scheme == "dark" else {})


def luminance(colour: str) -> float:
    """WCAG 2.2: 0.2126 R + 0.7152 G + 0.0722 B of linearised sRGB."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """WCAG 2.2: (L1 + 0.05) / (L2 + 0.05), the lighter first."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def templates() -> list[Path]:
    return [file for app in APPS for file in sorted(app.rglob("templates/**/*.html"))]


def style_sheets() -> list[Path]:
    return [file for app in APPS for file in sorted(app.rglob("static/**/*.css"))]


def test_the_formula_gives_the_published_ratios() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)  # WCAG 2.2: ratios range from 1 to 21
    assert contrast("#ffffff", "#ffffff") == pytest.approx(1)
    # From memory: the lightest grey that passes 4.5:1 on white is #767676, and #777777 does not.
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("ground", ["paper", "card"])
def test_words_stand_out_from_paper_and_card(scheme: str, ground: str) -> None:
    colours = declared(scheme)
    assert contrast(colours["ink"], colours[ground]) >= 13  # sunlight; 1.4.6 asks 7
    assert contrast(colours["soft"], colours[ground]) >= 6  # small print; 1.4.3 asks 4.5
    assert contrast(colours["earth"], colours[ground]) >= 7  # links and focus; 1.4.3 asks 4.5, 1.4.11 asks 3
    assert contrast(colours["on-earth"], colours["earth"]) >= 7  # the primary button


@pytest.mark.parametrize("scheme", SCHEMES)
def test_the_dark_scheme_is_a_scheme_of_its_own(scheme: str) -> None:
    colours = declared(scheme)
    lighter = luminance(colours["ink"]) > luminance(colours["paper"])
    assert lighter == (scheme == "dark")


def test_every_state_has_a_texture_and_no_two_share_one() -> None:
    sheet = (LOOK / "verdict.css").read_text(encoding="utf-8")
    drawn = dict(re.findall(r"^\.state\.([a-z]+)::before \{([^}]*)\}", sheet, flags=re.MULTILINE))
    wanted = {texture(str(state)) for state in State}
    assert len(wanted) == len(State)
    assert wanted == set(drawn)
    assert len({" ".join(rule.split()) for rule in drawn.values()}) == len(drawn)


def test_states_are_drawn_in_ink_and_never_in_a_hue() -> None:
    sheet = (LOOK / "verdict.css").read_text(encoding="utf-8")
    used = set(re.findall(r"var\(--([a-z-]+)\)", sheet))
    assert used <= {"ink", "soft", "card", "paper", "rule", "gap", "small", "step-1"}
    assert not re.search(r"#[0-9a-fA-F]{3,8}\b|\brgba?\(|\bhsla?\(", sheet)


# Where a utility's colour may stand: its swatch, and its line where it is drawn on a site plan or a profile,
# which is what the APWA code is for.
OF_A_UTILITY = re.compile(r"\.swatch\b|\.plan \.(?:line|depth-band)\.")


def test_a_utilitys_colour_is_its_swatch_or_its_line_and_nothing_else() -> None:
    faults = []
    for sheet in style_sheets():
        words = re.sub(r"/\*.*?\*/", "", sheet.read_text(encoding="utf-8"), flags=re.DOTALL)
        for selector, rule in re.findall(r"([^{}]+)\{([^{}]*)\}", words):
            if "var(--apwa-" in rule and not all(map(OF_A_UTILITY.search, selector.split(","))):
                faults.append(f"{sheet.relative_to(ROOT)}: {selector.strip()}")
    assert faults == []


def test_a_utilitys_colour_is_written_down_once() -> None:
    colours = {value for name, value in declared("light").items() if name.startswith("apwa-")} - {"#ffffff"}
    assert len(colours) == 7
    faults = [
        f"{file.relative_to(ROOT)}: {colour}"
        for file in [*templates(), *style_sheets(), *(f for app in APPS for f in app.rglob("static/**/*.js"))]
        if file.name != "tokens.css"
        for colour in colours
        if colour in file.read_text(encoding="utf-8").lower()
    ]
    assert faults == []


@pytest.mark.parametrize(
    ("what", "pattern"),
    [
        ("a style attribute", r"<[^>]+\sstyle\s*="),
        ("a style element", r"<style\b"),
        ("an inline script", r"<script\b(?![^>]*\bsrc=)"),
        ("an inline handler", r"<[^>]+\son[a-z]+\s*="),
        ("an address elsewhere", r"(?:src|href)=[\"'](?:https?:)?//"),
    ],
)
def test_templates_hold_nothing_that_the_content_policy_forbids(what: str, pattern: str) -> None:
    found = [file.relative_to(ROOT) for file in templates() if re.search(pattern, served(file))]
    assert len(templates()) > 10
    assert found == [], f"{what} in a template"


# A drawing inside the printed report carries its own styles: WeasyPrint applies no page's sheet inside an SVG.
PRINTED_ONLY = "{% if svg_style %}<style>{{ svg_style|safe }}</style>{% endif %}"


def served(file: Path) -> str:
    """A template's text as far as it can reach a browser."""
    return file.read_text(encoding="utf-8").replace(PRINTED_ONLY, "")


def test_only_the_printed_report_gives_a_drawing_styles_of_its_own() -> None:
    users = [file for app in APPS for file in app.rglob("*.py") if '"svg_style"' in file.read_text(encoding="utf-8")]
    assert [file.name for file in users] == ["report.py"]


def test_every_swatch_stands_beside_the_utilitys_name() -> None:
    found = [
        (file.relative_to(ROOT), rest)
        for file in templates()
        for rest in re.findall(r'class="swatch[^>]*></[a-z]+>(.{0,160})', file.read_text(), flags=re.DOTALL)
    ]
    assert found
    assert [file for file, rest in found if not re.search(r"\{\{[^}]*utility[^}]*\}\}", rest)] == []


def test_a_thumb_finds_every_button() -> None:
    tokens = (LOOK / "tokens.css").read_text(encoding="utf-8")
    (touch_rem,) = re.findall(r"--touch:\s*([\d.]+)rem", tokens)
    assert float(touch_rem) * 16 >= 44  # 2.5.5 asks 44 CSS pixels, 2.5.8 asks 24
    sheet = (LOOK / "page.css").read_text(encoding="utf-8")
    (button,) = re.findall(r"^button, \.button \{([^}]*)\}", sheet, flags=re.MULTILINE)
    assert "min-height: var(--touch)" in button
