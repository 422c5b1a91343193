"""Tags for what must never be confused: severity, side, placement, names and sources. Always a word and a shape."""

from django import template
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from ...day.plan import ReadyState
from ...knowledge.advice import Effect, Severity
from ...knowledge.number import Basis
from ...lens.choice import LensChoice
from ...lens.model import Placement
from ...optics.side import Side
from ...present.words import place_words

__all__ = [
    "basis_words", "effect", "language_of", "lens_place", "mark", "person", "place", "ready", "register", "side",
    "source",
]  # fmt: skip

register = template.Library()

SEVERITY_WORDS = {Severity.STOP: "Stop", Severity.WARN: "Look again", Severity.NOTE: "Note"}
EFFECT_WORDS = {Effect.FOR: "For", Effect.AGAINST: "Against", Effect.NEUTRAL: "Either way"}
BASIS_WORDS = {
    Basis.PUBLISHED: "published",
    Basis.COMMON_PRACTICE: "common practice",
    Basis.RECALLED: "from memory, not yet read in print",
}
READY_SEVERITY = {ReadyState.STOP: Severity.STOP, ReadyState.WARN: Severity.WARN}
SCRIPTS = (("ऀ", "ॿ", "hi"), ("ঀ", "৿", "bn"))


def shape(name: str) -> SafeString:
    """One of the small shapes drawn once in the base template."""
    return format_html('<svg class="shape" aria-hidden="true" focusable="false"><use href="#shape-{}"/></svg>', name)


def language_of(name: str) -> str:
    """``bn`` or ``hi`` when a name holds letters of that script, else an empty string."""
    for letter in name:
        for first, last, language in SCRIPTS:
            if first <= letter <= last:
                return language
    return ""


def basis_words(basis: Basis) -> str:
    """How far a number may be trusted, in words."""
    return BASIS_WORDS[basis]


@register.simple_tag
def mark(severity: Severity | str, count: int | None = None) -> SafeString:
    """A severity as shape and word, with a count where there are several."""
    level = severity if isinstance(severity, Severity) else Severity(severity)
    word = SEVERITY_WORDS[level] if count is None else f"{count} {SEVERITY_WORDS[level].lower()}"
    return format_html('<span class="mark mark-{}">{}{}</span>', level.value, shape(level.value), word)


@register.simple_tag
def side(which: Side, size: str = "") -> SafeString:
    """The side of the eye: an arrow to its own hand, solid for right and open for left, and the word."""
    arrow = shape(which.value)
    word = which.value.upper()
    body = format_html("{}{}", word, arrow) if which is Side.RIGHT else format_html("{}{}", arrow, word)
    return format_html(
        '<span class="side side-{} {}">{}<span class="hidden"> eye</span></span>', which.value, size, body
    )


@register.simple_tag
def place(placement: Placement) -> SafeString:
    """Where a lens comes to rest, as a framed word; each place has a frame of its own."""
    return format_html('<span class="place place-{}">{}</span>', placement.value, placement.value.upper())


@register.simple_tag
def lens_place(choice: LensChoice) -> SafeString:
    """Where a lens of the plan comes to rest; one that stands by for several eyes says so."""
    return format_html('<span class="place place-{}">{}</span>', choice.placement.value, place_words(choice))


@register.simple_tag
def ready(state: ReadyState) -> SafeString:
    """Where an item of the readiness list stands, as shape and word."""
    if state in READY_SEVERITY:
        return mark(READY_SEVERITY[state])
    name = state.value.replace(" ", "-")
    return format_html('<span class="mark mark-note">{}{}</span>', shape(name), state.value.capitalize())


@register.simple_tag
def person(name: str) -> SafeString:
    """A person's name, with its language where the script tells it."""
    language = language_of(name)
    if language:
        return format_html('<bdi lang="{}">{}</bdi>', language, name)
    return format_html("<bdi>{}</bdi>", name)


@register.simple_tag
def effect(which: Effect) -> SafeString:
    """Which way a reason pushes, as shape and word."""
    return format_html('<span class="effect">{}{}</span>', shape(which.value), EFFECT_WORDS[which])


@register.simple_tag
def source(key: str, basis: Basis) -> SafeString:
    """A link to where a figure comes from, with its basis in words."""
    words = basis_words(basis)
    label = words if basis is Basis.COMMON_PRACTICE and key == "practice" else f"{key}, {words}"
    return format_html('<a class="source" href="{}">{}</a>', reverse("source", args=[key]), label)
