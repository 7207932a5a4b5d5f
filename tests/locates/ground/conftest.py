"""Properties here do arithmetic on arrays; a busy machine must not turn a slow draw into a failure."""

from __future__ import annotations

from hypothesis import settings

if settings().deadline is not None:
    settings.register_profile("ground", deadline=None)
    settings.load_profile("ground")
