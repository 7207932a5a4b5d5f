"""Words and textures of the office's pages. Knows no request."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, datetime
from types import MappingProxyType

from locates.law.rule import Tier
from tickets.states import State, Utility
from tickets.verdict.words import instant_words

# The textures stand in verdict.css; words always stand beside them.
TEXTURES: Mapping[State, str] = MappingProxyType(
    {
        State.CLEAR: "open",
        State.CLOSING: "closing",
        State.WAITING: "waiting",
        State.STOP: "stop",
        State.EXPIRED: "closed",
        State.UNKNOWN: "unknown",
        State.EMERGENCY: "emergency",
    }
)
TIER_WORDS: Mapping[Tier, str] = MappingProxyType(
    {
        Tier.STATUTE: "text of the law read",
        Tier.CENTRE: "notification centre's own text read",
        Tier.SECONDARY: "told by another text",
        Tier.MEMORY: "from memory, no text read",
    }
)
_ISO = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(?::\d\d(?:\.\d+)?)?(?:Z|[+-]\d\d:\d\d)")


def texture_of(state: str) -> str:
    """The texture's class of a state; an unknown word gets the dotted one, never a clear one."""
    try:
        return TEXTURES[State(state)]
    except ValueError:
        return "unknown"


def swatch_of(utility: str) -> str:
    """The swatch's class of a utility."""
    return utility if utility in set(Utility) else "unknown"


def tier_words(tier: str) -> str:
    """'text of the law read'; an unknown word is said to be unknown."""
    try:
        return TIER_WORDS[Tier(tier)]
    except ValueError:
        return "evidence not known"


def kind_words(kind: str) -> str:
    """'answer_recorded' as 'Answer recorded'."""
    words = kind.replace("_", " ")
    return f"{words[:1].upper()}{words[1:]}"


def local_words(text: str, zone: str) -> str:
    """The text with every ISO instant in it said on the site's clock."""

    def said(found: re.Match[str]) -> str:
        return instant_words(datetime.fromisoformat(found.group().replace("Z", "+00:00")).astimezone(UTC), zone)

    return _ISO.sub(said, text)


def sentence(words: str) -> str:
    """With a capital and a full stop."""
    text = words.strip()
    return f"{text[:1].upper()}{text[1:]}" + ("" if not text or text[-1] in ".!?" else ".")
