"""Pages of the office."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from tickets.pages import acts, emergency, entry, evidence, job_page, jobs, law, notices, rules

urlpatterns: list[URLPattern | URLResolver] = [
    path("jobs/", jobs.jobs, name="jobs"),
    path("jobs/new", entry.job_new, name="job-new"),
    path("jobs/<int:pk>/", job_page.job, name="job"),
    path("jobs/<int:pk>/emergency", emergency.emergency, name="job-emergency"),
    path("jobs/<int:pk>/evidence", evidence.evidence, name="job-evidence"),
    path("jobs/<int:pk>/area", notices.dig_area_new, name="dig-area-new"),
    path("jobs/<int:pk>/tickets/new", notices.ticket_new, name="ticket-new"),
    path("jobs/<int:pk>/tickets/<int:ticket_pk>/correct", notices.ticket_correct, name="ticket-correct"),
    path("jobs/<int:pk>/do/<slug:name>", acts.act, name="job-act"),
    path("law/", law.law_table, name="law"),
    path("law/<slug:code>", law.law_state, name="law-state"),
    path("rules/", rules.rules, name="rules"),
    path("rules/<int:pk>/retire", rules.rule_retire, name="rule-retire"),
]
