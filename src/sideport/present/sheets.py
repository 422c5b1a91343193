"""The printed sheets: the theatre's list and one page an eye, as PDF.

The words travel to the typesetter as one JSON text, so nothing in a patient's record can act as a command to it.
The same plan gives the same bytes: the fonts come with the program and the date is the plan's.
"""

import json
from datetime import UTC, date, datetime, time
from functools import cache
from importlib.resources import files
from typing import Final

import typst

from ..day.plan import DayPlan
from .eye_sheet_data import eye_sheets_data
from .fonts import sheet_fonts
from .sheet_data import Data, day_sheet_data

__all__ = ["day_pdf", "eye_pdf", "typeset"]

STANDARD: Final = "ua-1"
"""Accessible PDF: tagged, titled, with a text alternative for each drawing."""


def day_pdf(plan: DayPlan) -> bytes:
    """The theatre's list, A4 landscape: one line an eye, then what to sort out, kit and cost.

    Parameters
    ----------
    plan : DayPlan
        The planned day.

    Returns
    -------
    bytes
        A PDF; the same plan gives the same bytes.
    """
    return sheet("day.typ", day_sheet_data(plan), plan)


def eye_pdf(plan: DayPlan) -> bytes:
    """One A4 page an eye, in the order of the list, eyes off the list last; then the sources.

    Parameters
    ----------
    plan : DayPlan
        The planned day.

    Returns
    -------
    bytes
        A PDF with one page more than the plan has eyes; the same plan gives the same bytes.

    Raises
    ------
    ImpossibleInputError
        When a planned cut contradicts its eye's side.
    """
    return sheet("eyes.typ", eye_sheets_data(plan), plan)


def sheet(template: str, data: Data, plan: DayPlan) -> bytes:
    """Typesets a sheet of a plan; its date is the plan's."""
    return typeset(template, data, plan.day)


def typeset(template: str, data: Data, day: date) -> bytes:
    """Typesets one template once.

    Parameters
    ----------
    template : str
        Name of a file beside ``common.typ``.
    data : dict
        All its words.
    day : date
        The date that the document carries; the same words on the same day give the same bytes.

    Returns
    -------
    bytes
        A PDF.
    """
    compiler = typst.Compiler(
        template_source(template),
        font_paths=sheet_fonts(),
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
    )
    stamp = datetime.combine(day, time(), tzinfo=UTC)
    pdf = compiler.compile(format="pdf", pdf_standards=STANDARD, timestamp=stamp)
    if not isinstance(pdf, bytes):
        raise TypeError("The typesetter gave no single PDF.")
    return pdf


@cache
def template_source(name: str) -> bytes:
    """A page's template behind the part that all sheets share."""
    folder = files("sideport.present").joinpath("templates")
    return folder.joinpath("common.typ").read_bytes() + folder.joinpath(name).read_bytes()
