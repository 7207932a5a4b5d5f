"""What a visit needs of the crew that makes it: skills, equipment, parts."""

from __future__ import annotations

from collections.abc import Sequence

from crews.gather_plan.kit import kinds_needed, needs_of
from crews.gather_plan.work import Work
from crews.models import VisitKind
from crews.planning.problem import Kit, KitNeed

# A crew must say that it can do these; the others are asked for only where some crew names them.
ALWAYS_A_SKILL = frozenset({VisitKind.DIG, VisitKind.PRIVATE_LOCATE, VisitKind.CAMERA})


def skills_of(one: Work, asked: frozenset[str]) -> frozenset[str]:
    """Its kind, and what was asked for beside; `asked` are the skills that some crew names."""
    own = {one.kind} if one.kind in ALWAYS_A_SKILL or one.kind in asked else set()
    return frozenset(own | set(one.wanted.skills if one.wanted else ()))


def kit_of(one: Work, kit: Sequence[Kit]) -> tuple[KitNeed, ...]:
    """One item of each kind that it needs."""
    return needs_of(kinds_needed(one), one.wanted.frequency_hz if one.wanted else None, kit)


def parts_of(one: Work) -> dict[str, int]:
    """Pieces by part."""
    return {} if one.wanted is None else {str(name): int(count) for name, count in one.wanted.parts.items()}
