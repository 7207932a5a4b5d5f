"""A strict reader of TOML tables: every key is taken once, by type, or the file is refused by name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time
from enum import StrEnum
from typing import Any, TypeVar

from locates.errors import FirstspadeError

E = TypeVar("E", bound=StrEnum)
_MISSING = object()


class RuleFileError(FirstspadeError):
    """A data file of the law is not usable: names the file, the key and the remedy."""

    code = "rule_file"

    def __init__(self, file: str, key: str, problem: str, remedy: str) -> None:
        super().__init__(f"{file}: {key}: {problem}; {remedy}", fields={"file": file, "key": key})
        self.file, self.key, self.problem, self.remedy = file, key, problem, remedy


class Table:
    """One TOML table with its place in the file. `done()` refuses keys that nobody asked for."""

    def __init__(self, file: str, path: str, values: Mapping[str, Any]) -> None:
        self.file, self.path, self._values = file, path, dict(values)
        self._taken: set[str] = set()

    def where(self, key: str) -> str:
        return f"{self.path}.{key}" if self.path else key

    def fault(self, key: str, problem: str, remedy: str) -> RuleFileError:
        return RuleFileError(self.file, self.where(key), problem, remedy)

    def has(self, key: str) -> bool:
        return key in self._values

    def _take(self, key: str, kind: type | tuple[type, ...], wanted: str, default: Any) -> Any:
        self._taken.add(key)
        if key not in self._values:
            if default is _MISSING:
                raise self.fault(key, "is missing", f"write {wanted}")
            return default
        value = self._values[key]
        wrong_bool = isinstance(value, bool) and kind is int
        wrong_date = isinstance(value, datetime) and kind is date
        if not isinstance(value, kind) or wrong_bool or wrong_date:
            raise self.fault(key, f"{value!r} is not {wanted}", f"write {wanted}")
        return value

    def text(self, key: str, default: Any = _MISSING) -> str:
        value: str = self._take(key, str, "a text in quotes", default)
        if default is _MISSING and not value.strip():
            raise self.fault(key, "is empty", "write a text in quotes")
        return value

    def whole(self, key: str, least: int = 1, default: Any = _MISSING) -> int:
        value: int = self._take(key, int, "a whole number", default)
        if value is not default and value < least:
            raise self.fault(key, f"{value} is too small", f"write a whole number of at least {least}")
        return value

    def flag(self, key: str, default: Any = _MISSING) -> bool:
        value: bool = self._take(key, bool, "true or false", default)
        return value

    def day(self, key: str, default: Any = _MISSING) -> date:
        value: date = self._take(key, date, "a date as 2026-07-01, without quotes", default)
        return value

    def clock(self, key: str) -> time | None:
        value: time | None = self._take(key, time, "a time of day as 07:00:00, without quotes", None)
        return value

    def choice(self, key: str, kind: type[E], default: Any = _MISSING) -> E:
        words = ", ".join(kind)
        value = self._take(key, str, f"one of: {words}", default)
        try:
            return kind(value)
        except ValueError:
            raise self.fault(key, f"{value!r} is not known", f"write one of: {words}") from None

    def word(self, key: str, allowed: Iterable[str], default: Any = _MISSING) -> str:
        words = tuple(allowed)
        value: str = self._take(key, str, f"one of: {', '.join(words)}", default)
        if value is not default and value not in words:
            raise self.fault(key, f"{value!r} is not known", f"write one of: {', '.join(words)}")
        return value

    def texts(self, key: str, default: Any = _MISSING) -> tuple[str, ...]:
        values = self._take(key, list, "a list of texts", default)
        if not all(isinstance(v, str) for v in values):
            raise self.fault(key, "holds something that is no text", "write a list of texts")
        return tuple(values)

    def mapping(self, key: str) -> dict[str, str]:
        values = self._take(key, dict, "a table of texts", {})
        if not all(isinstance(v, str) for v in values.values()):
            raise self.fault(key, "holds something that is no text", "write a table of texts")
        return dict(values)

    def table(self, key: str) -> Table | None:
        values = self._take(key, dict, f"a table [{self.where(key)}]", None)
        return None if values is None else Table(self.file, self.where(key), values)

    def needed(self, key: str) -> Table:
        found = self.table(key)
        if found is None:
            raise self.fault(key, "is missing", f"add the table [{self.where(key)}]")
        return found

    def tables(self, key: str) -> list[Table]:
        values = self._take(key, list, f"an array of tables [[{self.where(key)}]]", [])
        if not all(isinstance(v, dict) for v in values):
            raise self.fault(key, "holds something that is no table", f"write [[{self.where(key)}]]")
        return [Table(self.file, f"{self.where(key)}[{i}]", v) for i, v in enumerate(values, 1)]

    def names(self) -> tuple[str, ...]:
        """Every key of the table, as written."""
        return tuple(self._values)

    def done(self) -> None:
        extra = sorted(set(self._values) - self._taken)
        if extra:
            known = ", ".join(sorted(self._taken))
            raise self.fault(extra[0], "is not a key of this table", f"remove it or use one of: {known}")
