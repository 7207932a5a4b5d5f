"""(version, notice instant, calendar) -> Decision. The stricter of law, company rule and printed word wins."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

from locates.errors import FirstspadeError
from locates.law import trace as tracing
from locates.law.counting import (
    LeadCount,
    LifeCount,
    Moment,
    Opening,
    WaitCount,
    moment_of,
)
from locates.law.decision import Decision
from locates.law.opening import Openings
from locates.law.pattern import DayPatterns, Reckoned
from locates.law.renewal import Renewals
from locates.law.rule import Anchor, HolidayList, Overlay, Tier, Unit, Validity, Version
from locates.law.workdays import SiteDays, zone_days

STANDARD_SKIPS = frozenset({"saturday", "sunday", "holiday"})


class _Given(NamedTuple):
    """What may stand beside a notice; see `LegalClock.decide`."""

    stated_start: datetime | None = None
    printed_start: datetime | None = None
    printed_expiry: datetime | None = None
    work_begun_at: datetime | None = None
    overlays: tuple[Overlay, ...] = ()


_NOTHING = _Given()
_decision: Callable[..., Decision] = Decision  # its instants are handed on in one piece
_DEEMED_AT = Decision._fields.index("deemed_at")  # the first instant of Reckoned


class NaiveInstant(FirstspadeError):
    code = "naive_instant"


@lru_cache(maxsize=64)
def _site_days(listed: _Keyed, zone: str) -> SiteDays:
    return SiteDays(listed.listed, zone_days(zone))


class _Keyed:
    """A holiday list as a cache key, by its content."""

    __slots__ = ("_key", "listed")

    def __init__(self, listed: HolidayList) -> None:
        self.listed = listed
        self._key = (
            listed.days,
            listed.observed,
            tuple(sorted(listed.observed_for.items())),
            listed.complete,
        )

    def __hash__(self) -> int:
        return hash(self._key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Keyed) and self._key == other._key


class LegalClock:
    """One version of the law laid on one zone's calendar. Make it once, ask it often."""

    def __init__(self, version: Version, zone: str) -> None:
        self.version, self.zone_name = version, zone
        self.site = _site_days(_Keyed(version.holidays), zone)
        self.zone = self.site.zone
        self.working = self.site.for_wait(STANDARD_SKIPS)
        self.certain = self.site.for_validity(STANDARD_SKIPS)
        self._openings = Openings(version, self.site, self.working)
        self.wait, self.special_days = self._openings.wait, self._openings.special_days
        self._names = (version.code, version.id, version.digest)
        self._evidence = max(version.evidence, version.wait.ground.tier, key=lambda t: t.rank)
        self._doubts = _doubts(version)
        lives = [version.validity] + ([version.begin_work] if version.begin_work else [])
        self._from_notice_only = all(rule.anchor is Anchor.NOTICE for rule in lives)
        advance = version.max_advance
        self._advance = None if advance is None else LeadCount(advance.span, self.certain)
        self._renewals = Renewals(version.renewal, self._openings, self._advance, self.working, self.certain)
        self._life = self._life_count(version.validity)
        self._start_by = None if version.begin_work is None else self._life_count(version.begin_work)
        self._patterns = DayPatterns(self.zone, lambda notice: self._reckon(notice, _NOTHING), self._openings.lines())

    def decide(
        self,
        received_at: datetime,
        *,
        stated_start: datetime | None = None,
        printed_start: datetime | None = None,
        printed_expiry: datetime | None = None,
        work_begun_at: datetime | None = None,
        overlays: Sequence[Overlay] = (),
        trace: bool = True,
    ) -> Decision:
        """The window of a notice. Raises NaiveInstant, OutOfRange.

        `stated_start` is the start named in the notice, `printed_*` the centre's word on the ticket,
        `work_begun_at` the instant the first spade went in, if it has.
        """
        if not overlays and stated_start is printed_start is printed_expiry is work_begun_at is None:
            return self._decide_plainly(received_at, trace)
        notice = self._notice(received_at)
        given = _Given(stated_start, printed_start, printed_expiry, work_begun_at, tuple(overlays))
        return self._dressed(notice, self._reckon(notice, given), trace, overlays)

    def _decide_plainly(self, received_at: datetime, trace: bool) -> Decision:
        """Nothing stated or printed beside the notice: by its day's pattern, if it has one."""
        zone = self.zone
        if received_at.tzinfo is None or received_at.microsecond:
            notice = self._notice(received_at)
            return self._dressed(notice, self._reckon(notice, _NOTHING), trace, ())
        day, clock = zone.local(received_at)
        pattern = self._patterns.find(day, clock)
        if pattern is None:
            notice = Moment(int(received_at.timestamp()), day, clock)
            return self._dressed(notice, self._reckon(notice, _NOTHING), trace, ())
        notice = Moment(zone.midnight(day) + clock, day, clock)
        received = received_at if received_at.tzinfo is zone.tz else zone.instant(notice.epoch_s)
        instants = pattern.instants(notice.epoch_s, zone.tz)
        made = _decision(*self._names, received, *instants, self._evidence, self._doubts, pattern.warnings)
        if not trace:
            return made
        if pattern.frame is not None:
            return _decision(*made[:-1], tracing.steps_in(pattern.frame, made))
        opening = Opening(int(made.opens_at.timestamp()), pattern.first_day, pattern.last_day)
        made = _decision(*made[:-1], tracing.steps(self, notice, opening, made, ()))
        if self.wait.by_day:  # else the hours counted on each day differ from notice to notice
            pattern.frame = tracing.frame_of(made, [_DEEMED_AT + field for field, _ in pattern.moves])
        return made

    def _dressed(self, notice: Moment, found: Reckoned, trace: bool, overlays: Sequence[Overlay]) -> Decision:
        at = self.zone.instant
        instants = [None if epoch_s is None else at(epoch_s) for epoch_s in (notice.epoch_s, *found.instants)]
        made = _decision(*self._names, *instants, self._evidence, self._doubts, found.warnings)
        return made._replace(steps=tracing.steps(self, notice, found.opening, made, overlays)) if trace else made

    def _reckon(self, notice: Moment, given: _Given) -> Reckoned:
        """Count one notice out."""
        warnings: list[str] = []
        deemed = self._openings.deemed(notice)
        computed = self._openings.opening(notice, deemed)
        opens_s, only_notice = computed.epoch_s, self._from_notice_only and not given.overlays
        extra = tuple(WaitCount(o.wait, self.site) for o in given.overlays if o.wait is not None)
        if extra or given.stated_start is not None or given.printed_start is not None:
            opens_s = self._opens(opens_s, deemed, extra, given, warnings)
        if only_notice:
            life = self._life.end(notice)
            start_by = None if self._start_by is None else self._start_by.end(notice)
        else:
            life, start_by = self._lives(self._anchors(notice, computed, given.stated_start), given.overlays)
        closes = life
        if start_by is not None or given.printed_expiry is not None:
            closes = self._closes(life, start_by, given, warnings)
        renew_from_s, renew_by_s = self._renewals.span(closes, opens_s, notice.epoch_s, extra, warnings)
        latest_s = self._latest_start(notice, opens_s, warnings)
        if closes is not None and closes.epoch_s < opens_s:
            warnings.append("The ticket would end before it opens: ask the notification centre.")
        closes_s = None if closes is None else closes.epoch_s
        start_by_s = None if start_by is None else start_by.epoch_s
        instants = (deemed.epoch_s, opens_s, closes_s, start_by_s, renew_from_s, renew_by_s, latest_s)
        return Reckoned(instants, computed, tuple(warnings))

    def _opens(
        self,
        lawful_s: int,
        deemed: Moment,
        extra: tuple[WaitCount, ...],
        given: _Given,
        warnings: list[str],
    ) -> int:
        opens_s = lawful_s
        for wait in extra:
            opens_s = max(opens_s, wait.opening(deemed).epoch_s)
        starts = (("stated in the notice", given.stated_start), ("printed on the ticket", given.printed_start))
        for name, at in starts:
            if at is not None:
                opens_s = max(opens_s, self._given_start(lawful_s, at, name, warnings))
        return opens_s

    def second_notice_until(self, told_at: datetime) -> datetime | None:
        """End of the further wait after the centre was told at `told_at` that an operator did not answer.
        None: the law's length is not known, so nothing ends by itself."""
        rule = self.version.second_notice
        if rule is None or rule.span is None:
            return None
        told = self._notice(told_at)
        if rule.span.unit is Unit.HOURS and not rule.working_hours_only:
            return self.zone.instant(told.epoch_s + rule.span.amount * 3600)
        if rule.span.unit is Unit.HOURS:
            return self.zone.instant(self.working.run(told.epoch_s, rule.span.amount * 3600))
        return self.zone.instant(LeadCount(rule.span, self.working).last_within(told))

    def lapses_at(self, last_worked_day: int) -> datetime | None:
        """When a ticket lapses because work has stood still since a local day (ordinal); None: never."""
        if self.version.lapse is None:
            return None
        anchor = Moment(self.zone.midnight(last_worked_day), last_worked_day, 0)
        return self.zone.instant(LeadCount(self.version.lapse.span, self.certain).last_within(anchor))

    def _notice(self, received_at: datetime) -> Moment:
        if received_at.tzinfo is None:
            raise NaiveInstant("The instant of notice has no time zone; give one.", fields={"received_at": "no zone"})
        day, clock = self.zone.local(received_at)
        epoch = received_at.timestamp()
        whole = int(epoch)
        return Moment(whole + 1, day, clock) if epoch > whole else Moment(whole, day, clock)

    def _anchors(self, notice: Moment, computed: Opening, stated_start: datetime | None) -> dict[Anchor, Moment]:
        """A life that runs from the opening runs from the law's own, not from a later printed or company
        start: that would lengthen it."""
        opens, last = moment_of(self.zone, computed.epoch_s), computed.last_day
        stated = opens if stated_start is None else self._notice(stated_start)
        due = Moment(self.zone.at(last, opens.clock_s, later=False), last, opens.clock_s)
        return {Anchor.NOTICE: notice, Anchor.OPENS: opens, Anchor.STATED_START: stated, Anchor.RESPONSE_DUE: due}

    def _given_start(self, lawful_s: int, at: datetime, name: str, warnings: list[str]) -> int:
        given_s = int(at.timestamp())
        if abs(given_s - lawful_s) >= 60 and name.startswith("printed"):
            warnings.append(
                f"The start {name} ({self._words(given_s)}) differs from the computed one "
                f"({self._words(lawful_s)}): the later rules; ask the notification centre."
            )
        elif given_s < lawful_s:
            warnings.append(f"The start {name} lies before the computed one; the later rules.")
        return given_s

    def _lives(
        self, anchors: dict[Anchor, Moment], overlays: Sequence[Overlay]
    ) -> tuple[Moment | None, Moment | None]:
        counts = [self._life, *(self._life_count(o.validity) for o in overlays if o.validity is not None)]
        ends = [end for count in counts if (end := count.end(anchors[count.anchor])) is not None]
        start_by = self._start_by
        return min(ends, default=None), None if start_by is None else start_by.end(anchors[start_by.anchor])

    def _life_count(self, rule: Validity) -> LifeCount:
        return LifeCount(rule, self.site, STANDARD_SKIPS)

    def _closes(
        self, life: Moment | None, start_by: Moment | None, given: _Given, warnings: list[str]
    ) -> Moment | None:
        closes, work_begun_at, printed_expiry = life, given.work_begun_at, given.printed_expiry
        if start_by is not None and (work_begun_at is None or work_begun_at.timestamp() > start_by.epoch_s):
            closes = start_by if closes is None else min(closes, start_by)
            if work_begun_at is not None:
                warnings.append("Work began after the last day to begin: a new notice is needed.")
        if printed_expiry is None:
            return closes
        printed_s = int(printed_expiry.timestamp())
        if closes is not None and abs(printed_s - closes.epoch_s) >= 60:
            warnings.append(
                f"The expiry printed on the ticket ({self._words(printed_s)}) differs from the computed one "
                f"({self._words(closes.epoch_s)}): the earlier rules; ask the notification centre."
            )
        printed = moment_of(self.zone, printed_s)
        return printed if closes is None else min(closes, printed)

    def _latest_start(self, notice: Moment, opens_s: int, warnings: list[str]) -> int | None:
        if self._advance is None:
            return None
        latest_s = self._advance.last_within(notice)
        if opens_s > latest_s:
            warnings.append(
                f"The start lies after {self._words(latest_s)}, the furthest ahead of a notice that the law "
                "allows: ask the notification centre."
            )
        return latest_s

    def _words(self, epoch_s: int) -> str:
        return tracing.instant_words(self.zone.instant(epoch_s))


def _doubts(version: Version) -> tuple[str, ...]:
    """The parts of a version that rest on less than a statute or a centre's page, one sentence."""
    parts = {
        "the expiry": version.validity.ground.tier,
        "the last day to begin": version.begin_work.ground.tier if version.begin_work else Tier.STATUTE,
        "the renewal": version.renewal.ground.tier,
        "the rule on answers": version.answers.ground.tier,
    }
    weak = [f"{name} ({tier})" for name, tier in parts.items() if not tier.verified]
    return (f"Confirm with the notification centre, not read in a law's text: {', '.join(weak)}.",) if weak else ()
