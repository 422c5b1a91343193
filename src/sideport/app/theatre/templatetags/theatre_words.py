"""Filters that write what was recorded in theatre."""

from datetime import datetime
from typing import Any

from django import template
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from ....lens.model import Placement
from ....present import numbers
from ....present.note_words import EVENT_WORDS, OUTCOME_WORDS, event_words, wound_words
from ....present.words import PLACEMENT_WORDS
from ....record.facts import Fact
from ....record.kinds import Kind
from ....record.theatre_said import EventKind
from ..lens_check import FINDING_TITLES

__all__ = ["register"]

register = template.Library()


@register.filter
def oclock(moment: datetime) -> str:
    """The time of day where the computer stands."""
    return moment.astimezone().strftime("%H:%M")


@register.filter
def event(kind: EventKind) -> str:
    """The button of an event."""
    return EVENT_WORDS[kind]


@register.filter
def when(fact: Fact) -> datetime:
    """When a fact happened."""
    found: datetime = getattr(fact.said, "happened", None) or fact.said.ended
    return found


@register.filter
def told(fact: Fact) -> str:
    """A fact in one line."""
    said: Any = fact.said
    if fact.kind is Kind.OPERATION_STEP:
        return f"Step: {said.step}"
    if fact.kind is Kind.OPERATION_EVENT:
        return event_words(said)
    if fact.kind is Kind.WOUND_MADE:
        return f"Wound: {wound_words(said)}"
    if fact.kind is Kind.LENS_IMPLANTED:
        return f"Lens in the {PLACEMENT_WORDS[said.placement]}: {numbers.power(said.power_d)} {said.model}"
    if fact.kind is Kind.LENS_CHECKED:
        return box_told(said)
    if fact.kind is Kind.OPERATION_ENDED:
        return f"Ended: {OUTCOME_WORDS[said.outcome]}{f'. {said.note}' if said.note else ''}"
    return f"{said.pause.value.capitalize()} held"


def box_told(said: Any) -> str:
    """A box that was read, in one line."""
    lens = f"{numbers.power(said.power_d)} {said.model}" if said.model else "unknown"
    why = ", ".join(FINDING_TITLES.get(code, code).lower() for code in said.findings)
    end = "put aside" if said.put_aside else (f"used all the same: {said.deviation}" if said.deviation else "")
    return "; ".join(part for part in (f"Box read for the {PLACEMENT_WORDS[said.placement]}: {lens}", why, end) if part)


@register.simple_tag
def read_box(placement: Placement, plan_id: int, eye_key: str) -> str:
    """The address where a box is read for a place."""
    return reverse(f"theatre-{placement.value}", args=[plan_id, eye_key])


@register.simple_tag
def tap_key(key: object) -> SafeString:
    """The hidden fields of a button: its key, and room for how long it had to wait."""
    return format_html('<input type="hidden" name="tap" value="{}"><input type="hidden" name="ago_ms" value="0">', key)
