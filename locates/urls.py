"""Every address: pages of the office and of the crews, the API, its schema."""

from __future__ import annotations

from django.contrib.auth.views import LoginView, LogoutView
from django.urls import URLPattern, URLResolver, include, path
from drf_spectacular.views import SpectacularAPIView

from locates.api_docs import ApiDocs
from locates.health import health

urlpatterns: list[URLPattern | URLResolver] = [
    path("health", health, name="health"),
    path("login", LoginView.as_view(template_name="login.html", redirect_authenticated_user=True), name="login"),
    path("logout", LogoutView.as_view(), name="logout"),
    path("api/schema", SpectacularAPIView.as_view(), name="api-schema"),
    path("api/docs", ApiDocs.as_view(), name="api-docs"),
    path("api/v1/", include("tickets.api.urls")),
    path("api/v1/", include("crews.api.urls")),
    path("api/v1/", include("locates.field.api.urls")),
    path("", include("crews.urls")),
    path("", include("locates.field.urls")),
    path("", include("tickets.urls")),
]
