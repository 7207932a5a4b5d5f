"""The locates' part of the API, under /api/v1/."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver
from rest_framework.routers import SimpleRouter

from locates.field.api.views import RunViewSet

router = SimpleRouter(trailing_slash=False)
router.register("locate-runs", RunViewSet, basename="api-locate-run")

urlpatterns: list[URLPattern | URLResolver] = [*router.urls]
