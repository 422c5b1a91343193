"""Form fields that read what is said at a visit as forgivingly as the unit's spreadsheets are read."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from ...exchange.figures import CellError, Keratometry, parse_keratometry, parse_number, within
from ...knowledge import load_published
from ...optics.acuity import Acuity, parse_acuity
from ...optics.keratometry import power_from_radius

__all__ = ["AcuityField", "CornealField", "FigureField", "acuity", "choice", "corneal_power", "figure"]

ACCEPTED = "Accepted: 6/18, 20/60, 0.3, logMAR 0.5, CF 2m, HM, PL, NPL."
LONGEST = 60


class LineField(forms.CharField):
    """One short line of text."""

    def __init__(self, **options: Any) -> None:
        mode = options.pop("mode", "text")
        widget = forms.TextInput(attrs={"autocomplete": "off", "inputmode": mode, "spellcheck": "false"})
        super().__init__(required=False, max_length=LONGEST, widget=widget, **options)


class AcuityField(LineField):
    """An acuity in any notation, kept as it was written."""

    def clean(self, value: Any) -> Acuity | None:
        """The acuity, or ``None`` for an empty field.

        Raises
        ------
        ValidationError
            When the text means no acuity for certain.
        """
        text = str(super().clean(value)).strip()
        found = parse_acuity(text) if text else None
        if text and found is None:
            raise ValidationError(f"“{text}” is not read as an acuity. {ACCEPTED}")
        return found


class FigureField(LineField):
    """A figure within what is taken as a reading; comma or point, digits of any script."""

    def __init__(self, *, unit: str, limits: str = "", **options: Any) -> None:
        super().__init__(**options)
        self.unit, self.limits = unit, limits

    def clean(self, value: Any) -> float | None:
        """The figure, or ``None`` for an empty field.

        Raises
        ------
        ValidationError
            With what was found, why it cannot be read and what would be accepted.
        """
        text = str(super().clean(value)).strip()
        try:
            return within(parse_number(text, units=(self.unit,)), self.limits, self.unit) if text else None
        except CellError as error:
            raise ValidationError(f"“{text}” {error.why}. Accepted: {error.accepted}.") from None


class CornealField(LineField):
    """A corneal power or radius with its axis: ``43.50 @ 90``."""

    def clean(self, value: Any) -> Keratometry | None:
        """The reading, or ``None`` for an empty field.

        Raises
        ------
        ValidationError
            With what was found, why it cannot be read and what would be accepted.
        """
        text = str(super().clean(value)).strip()
        try:
            return parse_keratometry(text) if text else None
        except CellError as error:
            raise ValidationError(f"“{text}” {error.why}. Accepted: {error.accepted}.") from None


def corneal_power(reading: Keratometry | None) -> float | None:
    """The power of a reading [D], at the index by which keratometers are read; ``None`` for none."""
    if reading is None or not reading.in_mm:
        return reading.value if reading else None
    index = load_published().value("plausible.keratometer_index.convention")
    return round(float(power_from_radius(radius_mm=reading.value, index=index)), 2)


def acuity(label: str, help_text: str = "") -> AcuityField:
    """A field for an acuity."""
    return AcuityField(label=label, help_text=help_text)


def figure(label: str, unit: str, limits: str = "", help_text: str = "", mode: str = "text") -> FigureField:
    """A field for a figure with its unit in the label; a sign may be typed where the mode is text."""
    return FigureField(label=f"{label} ({unit})", unit=unit, limits=limits, help_text=help_text, mode=mode)


def choice(
    label: str, options: list[tuple[str, str]], *, required: bool = True, help_text: str = ""
) -> forms.ChoiceField:
    """A choice that starts empty."""
    first = [("", "Choose" if required else "not said")]
    return forms.ChoiceField(label=label, choices=[*first, *options], required=required, help_text=help_text)
