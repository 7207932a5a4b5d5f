"""The WSGI application that gunicorn serves."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "locates.settings")
application = get_wsgi_application()
# Every page with its libraries is loaded now: once before the processes part, and not while somebody waits for the
# first answer, where a busy machine can run into the server's own time limit.
_loaded = get_resolver().url_patterns
