"""What the pure parts raise. Pure."""

from __future__ import annotations

from locates.errors import FirstspadeError


class EquipmentError(FirstspadeError):
    """Input about equipment that cannot be used; the fields say why."""

    code = "equipment_refused"


def refuse(field: str, words: str) -> EquipmentError:
    """One fault, said beside its field and as the message."""
    return EquipmentError(f"{field.replace('_', ' ').capitalize()}: {words}", fields={field: words})
