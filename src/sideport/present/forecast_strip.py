"""The refraction that each lens on the shelf would give one eye, as marks with their spread on one axis."""

import math
from collections.abc import Sequence

from ..lens.choice import LensChoice
from . import numbers, svg
from .words import PLACEMENT_WORDS, lens_words

__all__ = ["forecast_description", "forecast_strip"]

WIDTH = 320.0
LEFT, RIGHT = 12.0, 308.0
HEAD, ROW, FOOT = 34.0, 31.0, 34.0
DIAMOND = 6.5
LEAST_SPAN_D = 2.0
"""So that a single lens does not fill the strip."""


def forecast_strip(*, choices: Sequence[LensChoice], lens: LensChoice | None, target_d: float, ident: str) -> str:
    """Draws the expected refraction of every choice as SVG, usable at 320 px.

    Parameters
    ----------
    choices : sequence of LensChoice
        The lenses to compare, best first; rows are numbered from 1 in this order.
    lens : LensChoice or None
        The one given; it is added as a last row when it is not among the choices.
    target_d : float
        Wished refraction [D].
    ident : str
        Unique on the page.

    Returns
    -------
    str
        An SVG element: the target as an upright line, each lens as a mark with a bar of one standard deviation each
        way; the given lens is a filled diamond with the word GIVEN, any other an open circle.

    Notes
    -----
    Minus is on the left and is called more short-sighted; model names stay in the table beside the strip, whose rows
    bear the same numbers.
    """
    rows = strip_rows(choices, lens)
    low, high = axis_limits(rows, target_d)
    height = HEAD + ROW * len(rows) + FOOT
    body = [*axis(low, high, height), *target(target_d, low, high, height)]
    for order, choice in enumerate(rows):
        body.extend(lens_row(order, choice, given=choice == lens, low=low, high=high))
    return svg.svg_document(
        ident=ident,
        title="Expected refraction of the lenses",
        description=forecast_description(choices=choices, lens=lens, target_d=target_d),
        width=WIDTH,
        height=height,
        body=body,
    )


def forecast_description(*, choices: Sequence[LensChoice], lens: LensChoice | None, target_d: float) -> str:
    """Says in words what the strip shows.

    Parameters
    ----------
    choices, lens, target_d
        As for ``forecast_strip``.

    Returns
    -------
    str
        One clause a lens.
    """
    rows = strip_rows(choices, lens)
    words = [
        f"{order}: {lens_words(choice)}{', given' if choice == lens else ''}, expected "
        f"{numbers.with_spread(choice.refraction_d, choice.sd_d, 'D', sign=True)}"
        for order, choice in enumerate(rows, start=1)
    ]
    return f"Target {numbers.refraction(target_d)}. " + ("; ".join(words) + "." if words else "No lens to compare.")


def strip_rows(choices: Sequence[LensChoice], lens: LensChoice | None) -> tuple[LensChoice, ...]:
    """The choices, with the given lens added when it is not among them."""
    return tuple(choices) if lens is None or lens in choices else (*choices, lens)


def axis_limits(rows: Sequence[LensChoice], target_d: float) -> tuple[float, float]:
    """Half-dioptre limits that hold every mark with its spread, and the target."""
    ends = [target_d]
    for choice in rows:
        spread = 0.0 if math.isnan(choice.sd_d) else choice.sd_d
        ends.extend((choice.refraction_d - spread, choice.refraction_d + spread))
    finite = [end for end in ends if math.isfinite(end)] or [0.0]
    low, high = math.floor(2 * min(finite)) / 2, math.ceil(2 * max(finite)) / 2
    wanting = max(0.0, LEAST_SPAN_D - (high - low))
    return low - wanting / 2, high + wanting / 2


def across(value_d: float, low: float, high: float) -> float:
    """Horizontal place of a refraction."""
    return LEFT + (RIGHT - LEFT) * (value_d - low) / (high - low)


def axis(low: float, high: float, height: float) -> list[str]:
    """The ruler at the foot with its words."""
    foot = height - FOOT + 2
    step = next((step for step in (0.5, 1.0, 2.0, 5.0, 10.0) if (high - low) / step <= 6), 20.0)
    parts = [svg.line((LEFT, foot), (RIGHT, foot), "strip-axis")]
    tick = math.ceil(low / step) * step
    while tick <= high:
        x = across(tick, low, high)
        parts.append(svg.line((x, foot), (x, foot + 4), "strip-axis"))
        anchor = "start" if x < LEFT + 14 else "end" if x > RIGHT - 14 else "middle"
        parts.append(svg.text((x, foot + 15), numbers.signed(tick, 1), "strip-tick", size=10.5, anchor=anchor))
        tick += step
    parts.append(svg.text((LEFT, foot + 28), "more short-sighted", "strip-end", size=10.5, anchor="start"))
    parts.append(svg.text((RIGHT, foot + 28), "more long-sighted", "strip-end", size=10.5, anchor="end"))
    return parts


def target(target_d: float, low: float, high: float, height: float) -> list[str]:
    """The upright line of the wished refraction."""
    x = across(target_d, low, high)
    anchor = "start" if x < WIDTH / 3 else "end" if x > 2 * WIDTH / 3 else "middle"
    words = f"TARGET {numbers.refraction(target_d)}"
    return [
        svg.text((x, 13), words, "strip-target-word", size=12, bold=True, anchor=anchor),
        svg.line((x, 18), (x, height - FOOT + 2), "strip-target", width=1.6, dash="6 3"),
    ]


def lens_row(order: int, choice: LensChoice, *, given: bool, low: float, high: float) -> list[str]:
    """One lens: its words, then its mark and spread below them."""
    top = HEAD + ROW * order
    place = PLACEMENT_WORDS[choice.placement]
    words = f"({order + 1}) {numbers.power(choice.power_d)} {place}"
    expected = numbers.refraction(choice.refraction_d)
    parts = [
        svg.text((LEFT, top), words + (" GIVEN" if given else ""), "strip-lens", bold=given, anchor="start", halo=True),
        svg.text((RIGHT, top), expected, "strip-value", bold=given, anchor="end", halo=True),
    ]
    if not math.isfinite(choice.refraction_d):
        return parts
    y, x = top + 11, across(choice.refraction_d, low, high)
    if math.isfinite(choice.sd_d):
        ends = [across(choice.refraction_d + way * choice.sd_d, low, high) for way in (-1.0, 1.0)]
        parts.append(svg.line((ends[0], y), (ends[1], y), "strip-spread", width=3.2 if given else 1.4))
        parts.extend(svg.line((end, y - 4), (end, y + 4), "strip-spread", width=1.4) for end in ends)
    if given:
        corners = ((x - DIAMOND, y), (x, y - DIAMOND), (x + DIAMOND, y), (x, y + DIAMOND))
        parts.append(svg.polygon(corners, "strip-given"))
    else:
        parts.append(svg.circle((x, y), 4.5, "strip-other", fill="#fff", width=1.6))
    return parts
