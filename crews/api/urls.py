"""The field's part of the API, under /api/v1/."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path
from rest_framework.routers import SimpleRouter

from crews.api.hours import CrewWeekViewSet, DayOffViewSet
from crews.api.parts import PlanWeightsView, SparePartViewSet
from crews.api.plans import PlanViewSet
from crews.api.today import TodayView
from crews.api.views import CrewViewSet, EquipmentViewSet, MeView, PersonViewSet, VisitViewSet
from crews.api.wanted import WantedVisitViewSet

router = SimpleRouter(trailing_slash=False)
router.register("crews", CrewViewSet, basename="api-crew")
router.register("people", PersonViewSet, basename="api-person")
router.register("equipment", EquipmentViewSet, basename="api-equipment")
router.register("visits", VisitViewSet, basename="api-visit")
router.register("plans", PlanViewSet, basename="api-plan")
router.register("wanted-visits", WantedVisitViewSet, basename="api-wanted-visit")
router.register("crew-weeks", CrewWeekViewSet, basename="api-crew-week")
router.register("days-off", DayOffViewSet, basename="api-day-off")
router.register("spare-parts", SparePartViewSet, basename="api-spare-part")

urlpatterns: list[URLPattern | URLResolver] = [
    path("me", MeView.as_view(), name="api-me"),
    path("plan-weights", PlanWeightsView.as_view(), name="api-plan-weights"),
    path("today", TodayView.as_view(), name="api-today"),
    *router.urls,
]
