"""Addresses of plans."""

from __future__ import annotations

from django.urls import path

from crews import feeds
from crews.plans import stops, views, want, work

urlpatterns = [
    path("plans/", views.plans, name="plans"),
    path("plans/weights/", views.weights, name="plan-weights"),
    path("plans/wanted/", want.wanted, name="wanted-visits"),
    path("plans/wanted/<int:wanted_id>/", want.change, name="wanted-change"),
    path("plans/wanted/<int:wanted_id>/drop", want.drop, name="wanted-drop"),
    path("plans/parts/", want.parts, name="spare-parts"),
    path("plans/parts/<int:part_id>/", want.part, name="spare-part"),
    path("plans/parts/<int:part_id>/drop", want.part_drop, name="spare-part-drop"),
    path("plans/hours/", work.crews, name="crews-hours"),
    path("plans/hours/<int:crew_id>/", work.crew, name="crew-hours"),
    path("plans/hours/<int:crew_id>/home", work.home, name="crew-home"),
    path("plans/hours/<int:crew_id>/off", work.day_off, name="day-off"),
    path("plans/days-off/<int:day_off_id>/end", work.day_on, name="day-on"),
    path("plans/calendars/", feeds.crew_calendars, name="crew-calendars"),
    path("plans/calendars/<int:crew_id>/renew", feeds.renew, name="crew-calendar-renew"),
    path("calendar/crew/<str:token>.ics", feeds.crew_calendar, name="crew-calendar"),
    path("plans/<int:plan_id>/", views.plan, name="plan"),
    path("plans/<int:plan_id>/days/", views.days, name="plan-days"),
    path("plans/<int:plan_id>/call-off", views.call_off, name="plan-call-off"),
    path("plans/<int:plan_id>/accept", views.accept, name="plan-accept"),
    path("plans/<int:plan_id>/set-aside", views.set_aside, name="plan-set-aside"),
    path("plans/stops/<int:stop_id>/", stops.stop, name="plan-stop"),
    path("plans/stops/<int:stop_id>/move", stops.move, name="plan-stop-move"),
    path("plans/stops/<int:stop_id>/pin", stops.pin, name="plan-stop-pin"),
    path("plans/stops/<int:stop_id>/accept", stops.accept, name="plan-stop-accept"),
]
