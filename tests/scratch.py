"""Folders for one process, swept up when it ends, or by the next run when it was killed."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from pathlib import Path

PREFIX = "firstspade-"
BYTECODE_FOLDER = "PYTHONPYCACHEPREFIX"
NAMED = re.compile(re.escape(PREFIX) + r"[a-z]+-(\d+)-")


def scratch_folder(kind: str) -> Path:
    """A new folder that carries this process's number; removing it is the caller's."""
    reap()
    return Path(tempfile.mkdtemp(prefix=f"{PREFIX}{kind}-{os.getpid()}-"))


def bytecode_folder() -> dict[str, str]:
    """For a child that gets an environment of its own: where this run keeps its bytecode, if somewhere else."""
    return {BYTECODE_FOLDER: os.environ[BYTECODE_FOLDER]} if BYTECODE_FOLDER in os.environ else {}


def reap() -> None:
    """Remove the folders of processes that are gone."""
    for folder in Path(tempfile.gettempdir()).glob(f"{PREFIX}*"):
        owner = NAMED.match(folder.name)
        if owner and not alive(int(owner[1])):
            shutil.rmtree(folder, ignore_errors=True)


def alive(process: int) -> bool:
    """Whether a process of this number exists, whoever owns it."""
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
