"""The stock as a list of boxes, and giving lenses to eyes."""

from .box import Box
from .give import Given, assign_units, expected_loss, give_lenses
from .needs import PowerNeed, lens_needs, power_to_ask_for
from .stock import box_flags, lenses_on_shelf, usable

__all__ = [
    "Box",
    "Given",
    "PowerNeed",
    "assign_units",
    "box_flags",
    "expected_loss",
    "give_lenses",
    "lens_needs",
    "lenses_on_shelf",
    "power_to_ask_for",
    "usable",
]
