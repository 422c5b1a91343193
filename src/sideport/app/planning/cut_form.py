"""The form of another cut, read from an address: nothing that is tried is stored."""

from collections.abc import Mapping

from django import forms

from ...day.try_cut import CutAsked, CutLimits
from ...present import numbers
from ...present.words import SITE_WORDS
from ...wound.plan import Site, WoundShape

__all__ = ["FIELDS", "CutForm", "Slide"]

FIELDS = ("site", "length", "distance", "shape")
STEP_MM = 0.1
"""Of a slider; a typed number may be finer."""


class Slide(forms.NumberInput):
    """A number that a script may accompany with a slider of the same limits."""

    def __init__(self, *, lowest: float, highest: float) -> None:
        limits = {"min": f"{lowest:g}", "max": f"{highest:g}", "inputmode": "decimal", "data-step": f"{STEP_MM:g}"}
        super().__init__(attrs=limits)


class CutForm(forms.Form):
    """Site, length, distance and shape of a cut."""

    def __init__(self, data: Mapping[str, str] | None, *, planned: CutAsked, limits: CutLimits) -> None:
        initial = {
            "site": planned.site.value, "length": f"{planned.length_mm:g}",
            "distance": f"{planned.limbus_distance_mm:g}", "shape": planned.shape.value,
        }  # fmt: skip
        super().__init__(data, initial=initial, prefix=None, auto_id="try-%s")
        self.fields["site"] = forms.ChoiceField(
            label="Site", choices=[(site.value, SITE_WORDS[site].capitalize()) for site in Site],
            error_messages={"invalid_choice": "Choose one of the sites."},
        )  # fmt: skip
        self.fields["length"] = millimetres("Length", limits.shortest_mm, limits.longest_mm)
        self.fields["distance"] = millimetres("Behind the limbus", 0.0, limits.farthest_mm)
        self.fields["shape"] = forms.ChoiceField(
            label="Shape", choices=[(shape.value, shape.value.capitalize()) for shape in WoundShape],
            error_messages={"invalid_choice": "Choose one of the shapes."},
        )  # fmt: skip

    @property
    def asked(self) -> CutAsked:
        """The cut that a valid form asks for."""
        found = self.cleaned_data
        return CutAsked(Site(found["site"]), found["length"], found["distance"], WoundShape(found["shape"]))

    @property
    def wrong(self) -> tuple[str, ...]:
        """What is to be mended, each with the name of its field."""
        return tuple(
            f"{field.label.removesuffix(' [mm]')}: {error}" for field in self.visible_fields() for error in field.errors
        )


def millimetres(label: str, lowest: float, highest: float) -> forms.FloatField:
    """A length between two limits."""
    room = f"Give {numbers.number(lowest)} to {numbers.quantity(highest, 'mm')}."
    return forms.FloatField(
        label=f"{label} [mm]",
        min_value=lowest,
        max_value=highest,
        widget=Slide(lowest=lowest, highest=highest),
        error_messages=dict.fromkeys(("invalid", "required", "min_value", "max_value"), room),
    )
