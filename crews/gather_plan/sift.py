"""Which work no plan can hold, and which standing visits therefore keep their hours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from crews.gather_plan.needs import kit_of, skills_of
from crews.gather_plan.shifts import Team
from crews.gather_plan.span import Span
from crews.gather_plan.windows import Starts, no_window_words, starts_left
from crews.gather_plan.work import RANK, Work
from crews.models import Visit, VisitKind
from crews.planning.kit import choose_items, is_fit
from crews.planning.problem import Kit, KitNeed, Planned

Held = Mapping[str, Sequence[str]]  # by the visit's key in the database: reason and words


@dataclass(frozen=True, slots=True)
class Left:
    """Work that no plan can hold, with the reason in words. Where it has a visit, that stays as it stands and its
    crew's hours are not planned."""

    work: Work
    reason: str
    words: str

    @property
    def stays(self) -> bool:
        return self.work.visit is not None


def sift(
    work: Sequence[Work],
    team: Team,
    kit: Sequence[Kit],
    held: Held,
    fixed: Mapping[int, Sequence[Visit]],
    starts: Mapping[str, Starts],
    span: Span,
) -> list[Left]:
    """What is not handed to the planner. `held` are visits for which an earlier search found no place; `fixed`
    are, by job, the visits that no plan moves; `starts` are from `starts_of`."""
    asked = frozenset(skill for crew in team.planned for skill in crew.skills)
    known: dict[tuple[KitNeed, ...], bool] = {}
    longest_s = max((shift.last_s - shift.start_s for shift in team.shifts), default=None)
    left: list[Left] = []
    for one in work:
        why = _why(one, left, team, starts, span, held) or _no_order(one, fixed[one.job.pk], span)
        if why is None and longest_s is not None and one.minutes * 60 > longest_s:
            why = "too_long", _too_long_words(one.minutes * 60, longest_s)
        if why is None and one.visit is not None:
            why = _nobody_can(one, team, kit, asked, known)
        if why is not None:
            left.append(Left(one, *why))
    return left


def stands_on(one: Work, team: Team, span: Span) -> Planned | None:
    """The shift in which the whole of its visit lies, with its start."""
    visit = one.visit
    assert visit is not None
    start_s = span.seconds(visit.starts_at)
    shift = team.shift_at(visit.crew, start_s, span.seconds(visit.ends_at))
    return None if shift is None else Planned(shift.id, start_s)


def _why(
    one: Work, left: Sequence[Left], team: Team, starts: Mapping[str, Starts], span: Span, held: Held
) -> tuple[str, str] | None:
    if one.visit is not None and str(one.visit.pk) in held:
        reason, words = held[str(one.visit.pk)]
        return reason, words
    if one.pinned and stands_on(one, team, span) is None:
        return "pinned_off_shift", "It is pinned outside its crew's hours, so no plan moves it."
    rank = RANK.get(one.kind, 0)
    before = [w.work for w in left if not w.stays and w.work.job.pk == one.job.pk and RANK.get(w.work.kind, 9) < rank]
    if before:
        return "earlier_left_out", f"{before[0].key}, which must come before it, cannot be planned."
    if one.key not in starts:
        return None
    lawful, renewed, _ = starts[one.key]
    if not lawful and not renewed:
        return "no_window", no_window_words(one, span)
    if one.visit is not None and one.pinned:
        start_s = span.seconds(one.visit.starts_at)
        if not any(w.earliest_s <= start_s <= w.latest_s for w in (*lawful, *renewed)):
            return "pin_unlawful", "It is pinned to hours at which the law does not allow it; take the pin off."
    return None


def _no_order(one: Work, fixed: Sequence[Visit], span: Span) -> tuple[str, str] | None:
    others = [visit for visit in fixed if one.visit is None or visit.pk != one.visit.pk]
    bound = starts_left(one, others, span)
    if bound is None or bound.latest_s >= bound.earliest_s:
        return None
    kinds = ", ".join(sorted({VisitKind(visit.kind).label.lower() for visit in others}))
    return "no_order", f"The job's visits that stay where they are ({kinds}) leave it no time in their order."


def _too_long_words(takes_s: int, longest_s: int) -> str:
    return (
        f"It takes {takes_s / 3600:.1f} h, and no crew has more than {longest_s / 3600:.1f} h in one piece in the "
        "days planned, overtime counted: plan more days, or split it."
    )


def _nobody_can(
    one: Work, team: Team, kit: Sequence[Kit], asked: frozenset[str], known: dict[tuple[KitNeed, ...], bool]
) -> tuple[str, str] | None:
    """Why no crew at all can do a visit that stands; the search itself says the rest."""
    skills = skills_of(one, asked)
    working = {shift.crew_id for shift in team.shifts}
    if not any(skills <= crew.skills for crew in team.planned if crew.id in working):
        return "no_skill", f"No one crew at work has all it needs: {', '.join(sorted(skills))}."
    needs = kit_of(one, kit)
    if needs not in known:
        known[needs] = any(
            choose_items(needs, [item for item in kit if is_fit(item, shift)]) is not None for shift in team.shifts
        )
    if not known[needs]:
        words = ", ".join(need.kind.replace("_", " ") for need in needs)
        return "no_kit", f"On none of the days may what it needs go out together: {words}."
    return None
