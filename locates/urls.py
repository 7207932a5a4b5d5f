"""Every address: pages of the office and of the crews, the API, its schema."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import LoginView, LogoutView
from django.urls import URLPattern, URLResolver, include, path
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView

from locates.health import health

# A page for people: a stranger is sent to the log-in, not told 403 as a program is.
docs = SpectacularSwaggerSplitView.as_view(url_name="api-schema")

urlpatterns: list[URLPattern | URLResolver] = [
    path("health", health, name="health"),
    path("login", LoginView.as_view(template_name="login.html", redirect_authenticated_user=True), name="login"),
    path("logout", LogoutView.as_view(), name="logout"),
    path("api/schema", SpectacularAPIView.as_view(), name="api-schema"),
    path("api/docs", login_required(docs), name="api-docs"),
    path("api/v1/", include("tickets.api.urls")),
    path("api/v1/", include("crews.api.urls")),
    path("", include("crews.urls")),
    path("", include("tickets.urls")),
]
