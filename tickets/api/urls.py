"""The office's part of the API, under /api/v1/."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver
from rest_framework.routers import SimpleRouter

from tickets.api.job_views import CustomerViewSet, JobViewSet, SiteViewSet
from tickets.api.site_views import (
    EmergencyViewSet,
    EvidenceViewSet,
    FollowUpViewSet,
    LocalRuleViewSet,
    PrivateLocateViewSet,
    SightingViewSet,
)
from tickets.api.ticket_views import AnswerViewSet, TicketViewSet

router = SimpleRouter(trailing_slash=False)
router.register("customers", CustomerViewSet, basename="api-customer")
router.register("sites", SiteViewSet, basename="api-site")
router.register("jobs", JobViewSet, basename="api-job")
router.register("tickets", TicketViewSet, basename="api-ticket")
router.register("answers", AnswerViewSet, basename="api-answer")
router.register("sightings", SightingViewSet, basename="api-sighting")
router.register("private-locates", PrivateLocateViewSet, basename="api-private-locate")
router.register("emergencies", EmergencyViewSet, basename="api-emergency")
router.register("local-rules", LocalRuleViewSet, basename="api-local-rule")
router.register("evidence", EvidenceViewSet, basename="api-evidence")
router.register("follow-ups", FollowUpViewSet, basename="api-follow-up")

urlpatterns: list[URLPattern | URLResolver] = [*router.urls]
