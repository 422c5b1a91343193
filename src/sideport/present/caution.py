"""The one caution text that every page and sheet with a number for care carries."""

__all__ = ["CAUTION", "CAUTION_SHORT"]

CAUTION = (
    "Decision support for licensed staff. Before use, a second person checks every side, lens and power, "
    "and a second method checks the numbers. Local protocols come first. The surgeon decides."
)
"""In full, for sheets and page footers."""

CAUTION_SHORT = "Decision support: check with a second person and a second method; local protocols come first."
"""For narrow places; never instead of the full text on a sheet."""
