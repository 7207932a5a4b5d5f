"""The care rules of each kind, read from a data file. Strict: a fault names file, rule and remedy. Pure."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from crews.equipment.care import Care, CareRule, Interval, Tolerance
from crews.equipment.refusal import EquipmentError

_KNOWN = {
    "key",
    "kinds",
    "care",
    "title",
    "every_months",
    "every_days",
    "every_uses",
    "each_day_of_use",
    "before_first_use",
    "shelf_months",
    "stops",
    "tolerance",
    "source",
    "words",
}
_TOLERANCE = {"absolute", "fraction", "unit"}


class RuleFileError(EquipmentError):
    """The data file of care rules cannot be used."""

    code = "care_rules_refused"


@lru_cache(maxsize=8)
def load_rules(path: Path) -> Mapping[str, tuple[CareRule, ...]]:
    """The rules by kind of item. Raises RuleFileError."""
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as wrong:
        raise RuleFileError(f"{path.name} cannot be read: {wrong}") from wrong
    return parse_rules(data, path.name)


def parse_rules(data: Mapping[str, Any], name: str) -> dict[str, tuple[CareRule, ...]]:
    """The same from parsed content; `name` stands in the messages."""
    found: dict[str, list[CareRule]] = {}
    for number, row in enumerate(data.get("rule", []), start=1):
        where = f"{name}, rule {number} ({row.get('key', 'no key')})"
        rule = _rule(row, where)
        for kind in row["kinds"]:
            mine = found.setdefault(str(kind), [])
            if any(other.key == rule.key for other in mine):
                raise RuleFileError(f"{where}: {kind} has a rule {rule.key} already; give it another key.")
            mine.append(rule)
    if not found:
        raise RuleFileError(f"{name} holds no [[rule]]; add at least one.")
    return {kind: tuple(rules) for kind, rules in found.items()}


def _rule(row: Mapping[str, Any], where: str) -> CareRule:
    unknown = set(row) - _KNOWN
    if unknown:
        raise RuleFileError(f"{where}: {', '.join(sorted(unknown))} is not known; use {', '.join(sorted(_KNOWN))}.")
    for field in ("key", "kinds", "care", "title", "source"):
        if not row.get(field):
            raise RuleFileError(f"{where}: {field} is missing; fill it in.")
    if row["care"] not in list(Care):
        raise RuleFileError(f"{where}: care {row['care']!r} is not known; use one of {', '.join(Care)}.")
    try:
        interval = Interval(
            row.get("every_months"),
            row.get("every_days"),
            row.get("every_uses"),
            bool(row.get("each_day_of_use", False)),
        )
    except (EquipmentError, TypeError) as wrong:
        raise RuleFileError(f"{where}: {wrong}") from wrong
    return CareRule(
        key=row["key"],
        care=Care(row["care"]),
        title=row["title"],
        interval=interval,
        source=row["source"],
        before_first_use=bool(row.get("before_first_use", False)),
        shelf_months=row.get("shelf_months"),
        stops=bool(row.get("stops", True)),
        tolerance=_tolerance(row.get("tolerance"), where),
        words=row.get("words", ""),
    )


def _tolerance(given: Any, where: str) -> Tolerance | None:
    if given is None:
        return None
    if not isinstance(given, Mapping) or set(given) != _TOLERANCE:
        raise RuleFileError(f"{where}: a tolerance holds {', '.join(sorted(_TOLERANCE))} and nothing else.")
    return Tolerance(float(given["absolute"]), float(given["fraction"]), str(given["unit"]))
