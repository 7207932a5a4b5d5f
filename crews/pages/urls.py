"""Addresses of the equipment register and of the list of people."""

from __future__ import annotations

from django.urls import path

from crews.pages import equipment, people

urlpatterns = [
    path("equipment/", equipment.equipment, name="equipment"),
    path("equipment/new/", equipment.new, name="equipment-new"),
    path("equipment/<int:item_id>/", equipment.item, name="equipment-item"),
    path("equipment/<int:item_id>/edit/", equipment.edit, name="equipment-edit"),
    path("equipment/<int:item_id>/hand-over", equipment.hand_over, name="equipment-hand-over"),
    path("equipment/<int:item_id>/certificate", equipment.certificate, name="equipment-certificate"),
    path("equipment/<int:item_id>/out", equipment.take_out, name="equipment-out"),
    path("equipment/<int:item_id>/back", equipment.bring_back, name="equipment-back"),
    path("people/", people.people, name="people"),
    path("people/new/", people.new, name="person-new"),
    path("people/<int:person_id>/", people.person, name="person"),
    path("people/<int:person_id>/password", people.password, name="person-password"),
    path("people/<int:person_id>/log-in", people.log_in_ends, name="person-log-in"),
]
