"""Filters that write numbers, each through ``present.numbers``, which owns signs, decimals and units."""

import math

from django import template
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from ...day.plan import EyePlan
from ...eye.person import Cataract
from ...eye.summary import Estimate
from ...lens.choice import LensChoice
from ...lens.registry import FORMULAS
from ...present import numbers, words
from ...wound.plan import WoundOption
from ...wound.technique import Technique

__all__ = ["register"]

register = template.Library()
ROUNDING = 1e-9
"""So that a dose of exactly one decimal keeps it."""

register.filter("power", numbers.power)
register.filter("refraction", numbers.refraction)
register.filter("dioptres", numbers.dioptres)
register.filter("millimetres", numbers.millimetres)
register.filter("degrees", numbers.degrees)
register.filter("percent", numbers.percent)
register.filter("odds", numbers.odds_ratio)
register.filter("money", numbers.money)
register.filter("amount", numbers.count)
register.filter("minutes", numbers.minutes)
register.filter("clock", numbers.clock_time)
register.filter("longdate", numbers.long_date)
register.filter("years", numbers.age)
register.filter("hundredths", numbers.number)
register.filter("thousandths", lambda value: numbers.number(value, 3))
register.filter("whole", lambda value: numbers.number(value, 0))
register.filter("formulas", words.formula_words)


@register.filter
def at_most(value: float, unit: str) -> str:
    """A largest dose, rounded down, never up."""
    return numbers.quantity(math.floor(10 * value + ROUNDING) / 10, unit, 1)


@register.filter
def who(eye: EyePlan) -> str:
    """Age and sex."""
    return words.person_words(eye)


@register.filter
def cataract(found: Cataract | None) -> str:
    """The cataract in words."""
    return words.cataract_words(found)


@register.filter
def technique(which: Technique) -> str:
    """The operation in words."""
    return words.TECHNIQUE_WORDS[which]


@register.filter
def cut(option: WoundOption) -> str:
    """Site, clock hour, length and shape of a cut."""
    return words.cut_words(option)


@register.filter
def hour(meridian_deg: float) -> str:
    """A meridian as a clock hour of the examiner's face."""
    return words.clock_hour(meridian_deg)


@register.filter
def estimate(found: Estimate, unit: str) -> str:
    """A believed quantity with its spread."""
    return numbers.with_spread(found.value, found.sd, unit)


@register.filter
def expected(choice: LensChoice) -> str:
    """The expected refraction with its spread."""
    return numbers.with_spread(choice.refraction_d, choice.sd_d, "D", sign=True)


@register.filter
def reading(value: float, unit: str) -> str:
    """A reading in its unit."""
    return numbers.quantity(value, unit)


@register.filter
def parts(formula_key: str) -> list[str]:
    """The formulas an expectation stands on; several are joined by a plus in the plan."""
    return [part.strip() for part in formula_key.split("+") if part.strip()]


@register.simple_tag
def formula(key: str) -> SafeString | str:
    """A formula's name as printed, leading to its source; the bare key for one that this version does not know."""
    known = FORMULAS.get(key)
    if known is None:
        return key
    return format_html('<a href="{}">{}</a>', reverse("source", args=[known.source]), known.label)
