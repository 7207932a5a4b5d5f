"""How the office's pages say states, local times and facts of the log."""

from __future__ import annotations

from django import template

from tickets.pages.words import kind_words, swatch_of, texture_of, tier_words

register = template.Library()

register.filter("texture", texture_of)
register.filter("kind_words", kind_words)
register.filter("swatch", swatch_of)
register.filter("tier_words", tier_words)
