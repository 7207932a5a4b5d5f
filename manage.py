#!/usr/bin/env python3
"""Firstspade's commands. `demo` and `test` make their own environment first; the rest is plain Django."""

from __future__ import annotations

import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent


def main(arguments: list[str]) -> int:
    """Run one command; only the standard library is needed until the packages are there."""
    from locates.bootstrap import entry

    code = entry.prepare(ROOT, arguments)
    if code is not None:
        return code
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "locates.settings")
    from django.core.management import execute_from_command_line

    execute_from_command_line([str(ROOT / "manage.py"), *arguments])
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
