"""Addresses of the equipment register and of the list of people."""

from __future__ import annotations

from django.urls import path

from crews.pages import alerts, care, crews, equipment, owner, people, sheets

urlpatterns = [
    path("equipment/", equipment.equipment, name="equipment"),
    path("equipment/new/", equipment.new, name="equipment-new"),
    path("equipment/<int:item_id>/", equipment.item, name="equipment-item"),
    path("equipment/<int:item_id>/edit/", equipment.edit, name="equipment-edit"),
    path("equipment/<int:item_id>/hand-over", equipment.hand_over, name="equipment-hand-over"),
    path("equipment/<int:item_id>/certificate", equipment.certificate, name="equipment-certificate"),
    path("equipment/<int:item_id>/out", equipment.take_out, name="equipment-out"),
    path("equipment/<int:item_id>/back", equipment.bring_back, name="equipment-back"),
    path("equipment/care/", owner.care, name="equipment-care"),
    path("equipment/due/", owner.due, name="equipment-due"),
    path("equipment/away/", owner.away, name="equipment-away"),
    path("equipment/kits/", owner.kits, name="equipment-kits"),
    path("equipment/kinds/<int:kind_id>/", owner.own_kind, name="equipment-own-kind"),
    path("equipment/import/", sheets.read_in, name="equipment-import"),
    path("equipment/import/<int:draft_id>", sheets.take_in, name="equipment-take-in"),
    path("equipment/export.<str:ending>", sheets.export, name="equipment-export"),
    path("equipment/labels.pdf", sheets.labels, name="equipment-labels"),
    path("equipment/calendar/", sheets.calendar_address, name="equipment-calendar-address"),
    path("equipment/calendar/<str:secret>.ics", sheets.due_calendar, name="equipment-calendar"),
    path("equipment/i/<str:code>", care.by_code, name="equipment-scan"),
    path("equipment/i/<str:code>/tap", care.tap, name="equipment-tap"),
    path("equipment/<int:item_id>/result/", care.result, name="equipment-result"),
    path("equipment/<int:item_id>/step/", care.step, name="equipment-step"),
    path("equipment/<int:item_id>/rule/", care.rule, name="equipment-rule"),
    path("equipment/<int:item_id>/word/", care.override, name="equipment-override"),
    path("equipment/word/<int:override_id>/end", care.end_override, name="equipment-override-end"),
    path("equipment/<int:item_id>/locate/", care.locate, name="equipment-locate"),
    path("equipment/<int:item_id>/paper/", care.paper_new, name="equipment-paper-new"),
    path("equipment/paper/<int:paper_id>", care.paper, name="equipment-paper"),
    path("reminders/", alerts.alerts, name="alerts"),
    path("reminders/worker.js", alerts.worker, name="alerts-worker"),
    path("reminders/devices", alerts.add, name="alerts-add"),
    path("reminders/devices/<int:device_id>/stop", alerts.stop, name="alerts-stop"),
    path("reminders/devices/<int:device_id>/trial", alerts.trial, name="alerts-trial"),
    path("people/", people.people, name="people"),
    path("people/crews/", crews.crews, name="crews"),
    path("people/crews/new/", crews.new, name="crew-new"),
    path("people/crews/<int:crew_id>/", crews.crew, name="crew"),
    path("people/crews/<int:crew_id>/rest", crews.rest, name="crew-rest"),
    path("people/crews/<int:crew_id>/truck", crews.truck, name="crew-truck"),
    path("people/new/", people.new, name="person-new"),
    path("people/<int:person_id>/", people.person, name="person"),
    path("people/<int:person_id>/password", people.password, name="person-password"),
    path("people/<int:person_id>/log-in", people.log_in_ends, name="person-log-in"),
]
