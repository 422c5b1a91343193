"""The drawing of the eye in words: the cut, the marks, the meridians and the scale."""

import math
from collections.abc import Sequence
from textwrap import wrap

from ..eye.summary import EyeSummary
from ..wound.plan import WoundPlan
from . import numbers, svg
from .eye_marks import EyeMark, marks_words

__all__ = ["HALF_CIRCLE_DEG", "draw_legend", "legend_height", "legend_rows", "meridian_words", "scale_words"]

HALF_CIRCLE_DEG = 180.0
ROW = 15.0
LETTERS = 62
"""Of a line below the drawing; a longer one goes on in the next, so that its end is never clipped."""


def legend_rows(wound: WoundPlan | None, belief: EyeSummary, marks: Sequence[EyeMark], radius_mm: float) -> list[str]:
    """The cut, the marks, the meridians and where the scale comes from, a line each."""
    if wound is None:
        rows = ["No cut is planned."]
    else:
        cut = wound.chosen
        rows = [
            f"Thick line: {cut.shape.value} cut {numbers.millimetres(cut.length_mm)}, "
            f"{numbers.millimetres(cut.limbus_distance_mm)} behind the limbus",
            f"Grey: tunnel; broken: inner opening {numbers.millimetres(cut.tunnel_mm)} inside the limbus",
        ]
    chosen = wound.chosen if wound else None
    rows.extend(marks_words(marks=(mark,), cut=chosen, limbus_radius_mm=radius_mm) for mark in marks)
    rows.append(meridian_words(belief))
    if not math.isnan(belief.white_to_white_mm.value):
        rows.append(scale_words(belief))
    return [line for row in rows for line in wrap(row, LETTERS, subsequent_indent="\u2003")]


def legend_height(rows: Sequence[str]) -> float:
    """Room for the lines and the scale bar [px]."""
    return ROW * len(rows) + 30 if rows else 0.0


def draw_legend(rows: Sequence[str], belief: EyeSummary, *, top: float, px_per_mm: float) -> list[str]:
    """The lines below the drawing and the scale bar under them."""
    if not rows:
        return []
    top += 10
    parts = [svg.text((8, top + ROW * row), words, "eye-legend", anchor="start") for row, words in enumerate(rows)]
    bar = top + ROW * len(rows) + 2
    if math.isnan(belief.white_to_white_mm.value):
        return [*parts, svg.text((8, bar + 4), scale_words(belief), "eye-legend", anchor="start", bold=True)]
    end = 8 + 5 * px_per_mm
    parts.append(svg.line((8, bar), (end, bar), "eye-scale", width=2))
    parts.extend(svg.line((x, bar - 4), (x, bar + 4), "eye-scale", width=2) for x in (8.0, end))
    return [*parts, svg.text((end + 8, bar + 4), "5 mm", "eye-legend", anchor="start")]


def meridian_words(belief: EyeSummary) -> str:
    """The corneal astigmatism in words."""
    amount = belief.corneal_astigmatism_d.value
    if math.isnan(amount):
        return "Corneal astigmatism: not known."
    if amount <= 0:
        return "No corneal astigmatism."
    steep = belief.steep_axis_deg % HALF_CIRCLE_DEG
    flat = (steep + 90.0) % HALF_CIRCLE_DEG
    return (
        f"Steep {numbers.degrees(steep)} (full line), flat {numbers.degrees(flat)} (broken): "
        f"{numbers.dioptres(amount)} apart."
    )


def scale_words(belief: EyeSummary) -> str:
    """The scale in words, with where the corneal diameter comes from."""
    estimate = belief.white_to_white_mm
    if math.isnan(estimate.value):
        return "Not to scale: corneal diameter not known."
    return f"Cornea {numbers.millimetres(estimate.value)} ({estimate.origin})."
