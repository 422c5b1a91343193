"""Small pieces of SVG: presentation attributes only, so that a strict content security policy has nothing to block."""

from collections.abc import Iterable
from html import escape

__all__ = ["Point", "circle", "line", "path", "polygon", "rectangle", "svg_document", "text"]

Point = tuple[float, float]
FAMILY = "Noto Sans, sans-serif"


def svg_document(*, ident: str, title: str, description: str, width: float, height: float, body: Iterable[str]) -> str:
    """A drawing with its title and text alternative.

    Parameters
    ----------
    ident : str
        Unique on the page and safe as an XML id; the ids of title and description start with it.
    title, description : str
        For readers who do not see the drawing.
    width, height : float
        Of the view box [px].
    body : iterable of str
        The parts, in the order of painting.

    Returns
    -------
    str
        One SVG element with ``role="img"``; ink is ``currentColor``.
    """
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" role="img" class="drawing" '
        f'aria-labelledby="{ident}-title {ident}-desc" font-family="{FAMILY}" color="#000">'
        f'<title id="{ident}-title">{escape(title)}</title><desc id="{ident}-desc">{escape(description)}</desc>'
        f"{''.join(body)}</svg>"
    )


def line(start: Point, end: Point, css: str, *, width: float = 1.0, dash: str = "") -> str:
    """A straight line of ink."""
    return (
        f'<line class="{css}" x1="{start[0]:.2f}" y1="{start[1]:.2f}" x2="{end[0]:.2f}" y2="{end[1]:.2f}" '
        f'stroke="currentColor" stroke-width="{width:g}"{dashes(dash)}/>'
    )


def path(points: Iterable[Point], css: str, *, width: float = 1.0, dash: str = "") -> str:
    """An open line through points."""
    where = " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
    return (
        f'<polyline class="{css}" points="{where}" fill="none" stroke="currentColor" stroke-width="{width:g}" '
        f'stroke-linejoin="round"{dashes(dash)}/>'
    )


def polygon(
    points: Iterable[Point], css: str, *, fill: str = "currentColor", width: float = 1.0, dash: str = ""
) -> str:
    """A closed shape."""
    where = " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
    return (
        f'<polygon class="{css}" points="{where}" fill="{fill}" stroke="currentColor" stroke-width="{width:g}" '
        f'stroke-linejoin="round"{dashes(dash)}/>'
    )


def circle(centre: Point, radius: float, css: str, *, fill: str = "none", width: float = 1.0, dash: str = "") -> str:
    """A circle."""
    return (
        f'<circle class="{css}" cx="{centre[0]:.2f}" cy="{centre[1]:.2f}" r="{radius:.2f}" fill="{fill}" '
        f'stroke="currentColor" stroke-width="{width:g}"{dashes(dash)}/>'
    )


def rectangle(corner: Point, size: Point, css: str, *, fill: str = "none", width: float = 1.0, dash: str = "") -> str:
    """An upright rectangle from its upper left corner."""
    return (
        f'<rect class="{css}" x="{corner[0]:.2f}" y="{corner[1]:.2f}" width="{size[0]:.2f}" height="{size[1]:.2f}" '
        f'fill="{fill}" stroke="currentColor" stroke-width="{width:g}"{dashes(dash)}/>'
    )


def text(
    at: Point,
    words: str,
    css: str,
    *,
    size: float = 11.0,
    bold: bool = False,
    anchor: str = "middle",
    halo: bool = False,
) -> str:
    """Upright words; a halo keeps them readable over lines."""
    weight = ' font-weight="700"' if bold else ""
    edge = ' stroke="#fff" stroke-width="3" stroke-linejoin="round" paint-order="stroke"' if halo else ""
    return (
        f'<text class="{css}" x="{at[0]:.2f}" y="{at[1]:.2f}" font-size="{size:g}" text-anchor="{anchor}" '
        f'fill="currentColor"{weight}{edge}>{escape(words)}</text>'
    )


def dashes(pattern: str) -> str:
    """The attribute for a dashed line, if it is dashed."""
    return f' stroke-dasharray="{pattern}"' if pattern else ""
