"""Pages of the field."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("crews.pages.urls")),
    path("", include("crews.phone.urls")),
    path("", include("crews.plans.urls")),
    path("", include("crews.board.urls")),
]
