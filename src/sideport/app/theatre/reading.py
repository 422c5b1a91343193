"""From what was scanned, photographed or typed to the box in the hand, or to what must be asked first."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.forms import Form

from ...exchange.barcodes import CodeError, LensLabel, codes_in_picture, read_codes
from ...shelf.box import Box
from .forms import CodeForm, PictureForm, TypedForm
from .lens_check import Held, find_boxes, held_from
from .shelf import TheatreShelf

__all__ = ["BETWEEN", "Reading", "form_of", "reading_of"]

BETWEEN = "\u241e"
"""Stands between the codes of one box in a hidden field."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What came of reading a box: one of the box, a choice of boxes, a first half, or what was wrong."""

    how: str
    held: Held | None = None
    candidates: tuple[Box, ...] = ()
    codes: tuple[str, ...] = ()
    separator_lost: bool = False
    half: str = ""
    wrong: str = ""


def form_of(data: Any, files: Any, models: Sequence[str]) -> Form:
    """The form that was sent, told by its fields."""
    if "picture" in files:
        return PictureForm(data, files)
    return TypedForm(data, models=models) if "power_d" in data else CodeForm(data)


def reading_of(form: Form, shelf: TheatreShelf) -> Reading:
    """What a valid form says of the box."""
    found = form.cleaned_data
    if isinstance(form, TypedForm):
        return Reading("typed", held=typed_box(found, shelf))
    how = "picture" if isinstance(form, PictureForm) else "scanned"
    try:
        codes = (
            codes_in_picture(found["picture"].read())
            if isinstance(form, PictureForm)
            else tuple(code for code in (*found["before"].split(BETWEEN), found["code"]) if code)
        )
        return boxes_of(read_codes(codes), codes, how, found.get("box_id", ""), shelf)
    except CodeError as error:
        return Reading(how, wrong=str(error))


def boxes_of(label: LensLabel, codes: tuple[str, ...], how: str, chosen: str, shelf: TheatreShelf) -> Reading:
    """The box that a label names; several are asked about, and so is one found past a lost separator."""
    if not label.names_a_box:
        if label.standard == "HIBC" and len(codes) == 1:
            return Reading(how, half=codes[0])
        return Reading(how, wrong="This code names no lot and no serial. Scan the box's other code, or type the label.")
    found = find_boxes(label, shelf.boxes)
    if chosen:
        found_box = next((box for box in found.boxes if box.box_id == chosen), None)
        if found_box is None:
            return Reading(how, wrong="That box does not bear this label. Scan again.")
        lost = found.separator_lost
        return Reading(how, held=held_from(found_box, LensLabel(label.standard, codes=codes) if lost else label))
    if not found.boxes:
        unknown = Held(lot=label.lot, serial=label.serial, expires=label.expires, codes=codes)
        return Reading(how, held=unknown)
    if len(found.boxes) > 1 or found.separator_lost:
        return Reading(how, candidates=found.boxes, codes=codes, separator_lost=found.separator_lost)
    return Reading(how, held=held_from(found.boxes[0], label))


def typed_box(found: dict[str, Any], shelf: TheatreShelf) -> Held:
    """A box by its typed label; lot or serial, model and power must all agree with one of the shelf."""
    label = LensLabel("typed", lot=found["lot"].strip(), serial=found["serial"].strip(), expires=found["expires"])
    same = [
        box for box in find_boxes(label, shelf.boxes).boxes
        if (box.model, box.power_d) == (found["model"], found["power_d"])
    ]  # fmt: skip
    if len(same) == 1:
        return held_from(same[0], label)
    return Held(found["model"], found["power_d"], label.lot, label.serial, label.expires)
