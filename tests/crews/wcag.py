"""What a machine can tell of WCAG 2.2 A and AA on a page (axe-core), and how large the targets are."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe

LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
TARGETS = "main a, main button, main select, main textarea, main summary, main input:not([type=hidden])"


def violations(page: Any) -> list[str]:
    """Each rule broken, with the first element that breaks it."""
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": LEVELS}})
    assert found.response["passes"], "axe looked at nothing"
    return [f"{one['id']}: {one['nodes'][0]['html'][:120]}" for one in found.response["violations"]]


def small_targets(page: Any, least_px: float) -> list[str]:
    """Every visible target lower than `least_px`, with its height."""
    found: list[str] = page.eval_on_selector_all(
        TARGETS,
        """(all, least) => all.filter((one) => one.checkVisibility())
            .map((one) => [one.getBoundingClientRect().height, one.outerHTML.slice(0, 100)])
            .filter(([height]) => height < least - 0.5).map(([height, html]) => `${height} px: ${html}`)""",
        least_px,
    )
    return found


def sideways(page: Any) -> int:
    """How many pixels the page is wider than its window."""
    wider: int = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    return wider
