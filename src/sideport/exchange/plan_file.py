"""The plan as JSON: exactly what ``DayPlan`` holds, out and back to the last digit."""

import dataclasses
import json
import math
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from ..day.plan import DayPlan
from ..day.plan_day import FORMAT_VERSION
from ..errors import ImpossibleInputError, PlanFormatError

__all__ = ["PLAN_FORMAT_VERSION", "plan_from_json", "plan_schema", "plan_to_json", "read_plan", "write_plan"]

PLAN_FORMAT_VERSION = FORMAT_VERSION
"""Raised by one whenever a field is removed, renamed or changes its meaning."""


def plan_to_json(plan: DayPlan) -> str:
    """A plan as JSON text.

    Parameters
    ----------
    plan : DayPlan
        Any plan of the present format.

    Returns
    -------
    str
        Indented UTF-8 text with a line end; the same plan always gives the same text.

    Raises
    ------
    PlanFormatError
        When the plan says that it has another format version.
    ImpossibleInputError
        When a number in it is not finite: JSON has no such numbers, and no sheet could print it.
    """
    if plan.format_version != PLAN_FORMAT_VERSION:
        raise PlanFormatError(f"This plan is of format {plan.format_version}; {PLAN_FORMAT_VERSION} is written here.")
    bad = list(not_finite(plan, "plan"))
    if bad:
        raise ImpossibleInputError(
            f"{len(bad)} numbers of the plan are not finite, first {bad[0]}; use None for missing."
        )
    return adapter().dump_json(plan, indent=1).decode() + "\n"


def plan_from_json(text: str | bytes) -> DayPlan:
    """A plan from its JSON text.

    Parameters
    ----------
    text : str or bytes
        As `plan_to_json` writes it.

    Returns
    -------
    DayPlan

    Raises
    ------
    PlanFormatError
        When it is not a plan, is of another format version, or has a field that cannot be read.
    """
    try:
        version = json.loads(text)["format_version"]
    except (ValueError, TypeError, LookupError, RecursionError):
        raise PlanFormatError("This is not a plan written by Sideport; make it anew with sideport plan.") from None
    if version != PLAN_FORMAT_VERSION or isinstance(version, bool):
        raise PlanFormatError(
            f"The plan is of format {str(version)[:20]}, this program reads format {PLAN_FORMAT_VERSION}: plan the day "
            "again from its folder, or open the file with the version that wrote it."
        )
    try:
        return adapter().validate_json(text)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False, include_context=False)[0]
        place = ".".join(str(step) for step in first["loc"])
        raise PlanFormatError(
            f"The plan cannot be read: {error.error_count()} fields are wrong, first {place} ({first['msg']}). "
            "The file was changed or cut off; plan the day again from its folder."
        ) from None


def write_plan(plan: DayPlan, path: Path) -> None:
    """Writes ``plan.json``, whole or not at all.

    Parameters
    ----------
    plan : DayPlan
        The plan.
    path : Path
        The file; an older one is replaced.
    """
    text = plan_to_json(plan)
    draft = path.with_name(path.name + ".part")
    draft.write_text(text, encoding="utf-8", newline="\n")
    draft.replace(path)


def read_plan(path: Path) -> DayPlan:
    """Reads ``plan.json``.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    DayPlan

    Raises
    ------
    PlanFormatError
        When the file is no plan or of another format version.
    """
    return plan_from_json(path.read_bytes())


def plan_schema() -> dict[str, Any]:
    """The JSON Schema of the plan's format."""
    return adapter().json_schema(mode="serialization")


@cache
def adapter() -> TypeAdapter[DayPlan]:
    """Pydantic's view of the dataclasses; made once, since making it takes a while."""
    return TypeAdapter(DayPlan)


def not_finite(value: object, place: str) -> Iterator[str]:
    """Where in a tree of dataclasses and tuples a float is NaN or infinite."""
    if isinstance(value, float):
        if not math.isfinite(value):
            yield place
    elif isinstance(value, tuple):
        for index, item in enumerate(value):
            yield from not_finite(item, f"{place}[{index}]")
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from not_finite(getattr(value, field.name), f"{place}.{field.name}")
