"""The refraction that each lens on the shelf would give one eye, as marks with their spread on one axis."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..lens.choice import LensChoice
from . import numbers, svg
from .words import lens_words, place_words

__all__ = ["forecast_description", "forecast_strip"]

DIAMOND = 6.5
LEAST_SPAN_D = 2.0
"""So that a single lens does not fill the strip."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Measures of a strip: the axis runs from left to right."""

    width: float
    left: float
    right: float
    head: float
    row: float
    foot: float
    mark_drop: float
    """From a lens's words down to its mark."""


OPEN = Frame(width=320.0, left=12.0, right=308.0, head=34.0, row=31.0, foot=34.0, mark_drop=11.0)
"""Words above their bar, for a narrow screen."""
TIGHT = Frame(width=420.0, left=172.0, right=408.0, head=30.0, row=16.0, foot=19.0, mark_drop=-4.0)
"""Words beside their bar, for paper."""


def forecast_strip(
    *, choices: Sequence[LensChoice], lens: LensChoice | None, target_d: float, ident: str, tight: bool = False
) -> str:
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
    tight : bool, optional
        Words beside the bars instead of above them, without the expected value, for a page whose table has it.

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
    frame = TIGHT if tight else OPEN
    scale = Scale(frame, low, high)
    height = frame.head + frame.row * len(rows) + frame.foot
    body = [*axis(scale, height), *target(target_d, scale, height)]
    for order, choice in enumerate(rows):
        body.extend(lens_row(order, choice, given=choice == lens, scale=scale))
    return svg.svg_document(
        ident=ident,
        title="Expected refraction of the lenses",
        description=forecast_description(choices=choices, lens=lens, target_d=target_d),
        width=frame.width,
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


@dataclass(frozen=True, slots=True)
class Scale:
    """Turns refractions into places on a strip."""

    frame: Frame
    low: float
    high: float

    def across(self, value_d: float) -> float:
        """Horizontal place of a refraction."""
        return self.frame.left + (self.frame.right - self.frame.left) * (value_d - self.low) / (self.high - self.low)


def axis(scale: Scale, height: float) -> list[str]:
    """The ruler at the foot with its words."""
    foot, frame, span = height - scale.frame.foot + 2, scale.frame, scale.high - scale.low
    step = next((step for step in (0.5, 1.0, 2.0, 5.0, 10.0) if span / step <= 6), 20.0)
    parts = [svg.line((frame.left, foot), (frame.right, foot), "strip-axis")]
    tick = math.ceil(scale.low / step) * step
    while tick <= scale.high:
        x = scale.across(tick)
        parts.append(svg.line((x, foot), (x, foot + 4), "strip-axis"))
        anchor = "start" if x < frame.left + 14 else "end" if x > frame.right - 14 else "middle"
        parts.append(svg.text((x, foot + 15), numbers.signed(tick, 1), "strip-tick", size=11, anchor=anchor))
        tick += step
    left, right = "more short-sighted", "more long-sighted"
    if frame is TIGHT:
        return [*parts, svg.text((12.0, foot + 15), f"Left: {left}", "strip-end", size=11, anchor="start")]
    parts.append(svg.text((frame.left, foot + 28), left, "strip-end", size=11, anchor="start"))
    parts.append(svg.text((frame.right, foot + 28), right, "strip-end", size=11, anchor="end"))
    return parts


def target(target_d: float, scale: Scale, height: float) -> list[str]:
    """The upright line of the wished refraction."""
    x = scale.across(target_d)
    third = (scale.frame.right - scale.frame.left) / 3
    anchor = "start" if x < scale.frame.left + third else "end" if x > scale.frame.right - third else "middle"
    words = f"TARGET {numbers.refraction(target_d)}"
    return [
        svg.text((x, 13), words, "strip-target-word", size=12, bold=True, anchor=anchor),
        svg.line((x, 18), (x, height - scale.frame.foot + 2), "strip-target", width=1.6, dash="6 3"),
    ]


def lens_row(order: int, choice: LensChoice, *, given: bool, scale: Scale) -> list[str]:
    """One lens: its words, and its mark and spread below or beside them."""
    frame = scale.frame
    top = frame.head + frame.row * order
    words = f"({order + 1}) {numbers.power(choice.power_d)} {place_words(choice)}" + (" GIVEN" if given else "")
    parts = [svg.text((12.0, top), words, "strip-lens", bold=given, anchor="start", halo=True)]
    if frame is OPEN or not math.isfinite(choice.refraction_d):
        expected = numbers.refraction(choice.refraction_d)
        parts.append(svg.text((frame.right, top), expected, "strip-value", bold=given, anchor="end", halo=True))
    if not math.isfinite(choice.refraction_d):
        return parts
    y, x = top + frame.mark_drop, scale.across(choice.refraction_d)
    if math.isfinite(choice.sd_d):
        ends = [scale.across(choice.refraction_d + way * choice.sd_d) for way in (-1.0, 1.0)]
        parts.append(svg.line((ends[0], y), (ends[1], y), "strip-spread", width=3.2 if given else 1.4))
        parts.extend(svg.line((end, y - 4), (end, y + 4), "strip-spread", width=1.4) for end in ends)
    if given:
        corners = ((x - DIAMOND, y), (x, y - DIAMOND), (x + DIAMOND, y), (x, y + DIAMOND))
        parts.append(svg.polygon(corners, "strip-given"))
    else:
        parts.append(svg.circle((x, y), 4.5, "strip-other", fill="#fff", width=1.6))
    return parts
