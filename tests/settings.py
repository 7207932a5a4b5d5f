"""The settings under test: the real ones, with a throw-away key, database file and a fast password hash."""

from __future__ import annotations

import atexit
import os
import shutil

from tests.scratch import scratch_folder

# One folder a process: several runs, and the two halves of one run, never share a database file.
SCRATCH = scratch_folder("test")
atexit.register(shutil.rmtree, SCRATCH, ignore_errors=True)
os.environ.setdefault("SECRET_KEY", "only-for-tests-and-long-enough-for-the-check-of-its-length")
os.environ["DATA_DIR"] = str(SCRATCH)
os.environ["SECURE_COOKIES"] = "0"
os.environ["DEBUG"] = "0"
os.environ["TIME_ZONE"] = "America/New_York"
os.environ["LOG_LEVEL"] = "WARNING"
# A file and not memory: the live server's thread and the worker need connections of their own.
os.environ["TEST_DATABASE_FILE"] = str(SCRATCH / "test.sqlite3")

from locates.settings import *  # noqa: E402, F403
from locates.settings import DATABASES  # noqa: E402

if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"]["init_command"] += "PRAGMA synchronous=OFF;"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
ALLOWED_HOSTS = ["*"]
WHITENOISE_AUTOREFRESH = True  # nothing is scanned at the start; a test that asks for a file still gets it
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
