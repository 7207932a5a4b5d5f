"""Forms of the list of people."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Q

from crews.models import Crew, Role


class PersonForm(forms.Form):
    """Who somebody is and what they may see."""

    first_name = forms.CharField(required=False, max_length=150)
    last_name = forms.CharField(required=False, max_length=150)
    role = forms.ChoiceField(
        choices=Role.choices,
        initial=Role.CREW_MEMBER,
        help_text="The owner sees and changes everything; a dispatcher runs the jobs; a crew member sees the own "
        "crew's sites.",
    )
    crew: Any = forms.ModelChoiceField(
        queryset=None, required=False, empty_label="No crew", help_text="A crew member needs one."
    )
    phone = forms.CharField(required=False, max_length=32)
    email = forms.EmailField(required=False, label="E-mail")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        crew = self.fields["crew"]
        assert isinstance(crew, forms.ModelChoiceField)
        crew.queryset = Crew.objects.filter(Q(active=True) | Q(pk=self.initial.get("crew")))


def _password(label: str) -> forms.CharField:
    return forms.CharField(
        label=label,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least eight characters, and not one that everybody knows. Tell it to the person yourself.",
    )


class NewPersonForm(PersonForm):
    """A new log-in."""

    username = forms.CharField(
        max_length=150,
        label="Log-in name",
        widget=forms.TextInput(attrs={"autocapitalize": "none", "autocomplete": "off"}),
        help_text="Short, without spaces; it cannot be changed later.",
    )
    password = _password("First password")

    field_order = ["username", "password", "first_name", "last_name", "role", "crew", "phone", "email"]


class PasswordForm(forms.Form):
    """A new password for somebody who has lost it."""

    password = _password("New password")
