"""Addresses of the crew's page of the day."""

from __future__ import annotations

from django.urls import path

from crews.phone import views

urlpatterns = [
    path("today/", views.today, name="today"),
    path("today/<int:visit_id>/marks", views.marks, name="today-marks"),
    path("today/<int:visit_id>/begun", views.begun, name="today-begun"),
    path("today/<int:visit_id>/read", views.read, name="today-read"),
]
