"""Addresses of the dispatcher's chart and of visits placed by hand."""

from __future__ import annotations

from django.urls import path

from crews.board import views, visits

urlpatterns = [
    path("", views.windows, name="windows"),
    path("jobs/<int:job_id>/visit", visits.place, name="place-visit"),
    path("visits/<int:pk>", visits.visit_page, name="visit"),
    path("visits/<int:pk>/move", visits.move, name="move-visit"),
    path("visits/<int:pk>/cancel", visits.cancel, name="cancel-visit"),
]
