"""Reference pages made from the program itself, so that they cannot drift from it."""

import ast
import dataclasses
import inspect
import textwrap
import typing
from enum import Enum
from itertools import pairwise
from pathlib import Path

from ..day.plan import DayPlan
from .catalogue import tables
from .columns import Column, Kind
from .columns_unit import SETTINGS
from .figures import limits_of, radius_limits
from .plan_file import PLAN_FORMAT_VERSION

__all__ = ["columns_markdown", "plan_format_markdown", "write_reference"]

COLUMNS_HEAD = """# The columns of the sheets

Made from the program's own catalogue (`sideport.exchange.reference`); do not edit by hand. How to fill the sheets is
told in [Plan your own day](../how-to/your-own-day.md).

Headings are matched without regard to case, spaces, punctuation and units in brackets. **Bold** columns are needed: a
row without them is set aside. A figure outside the limits is set aside with the reason; nothing is ever cut to fit.
"""
PLAN_HEAD = f"""# The format of plan.json

Made from the program's own types (`sideport.exchange.reference`); do not edit by hand.

`plan.json` holds one `DayPlan`, format version **{PLAN_FORMAT_VERSION}**, as UTF-8 JSON. Dates are `YYYY-MM-DD`,
times `HH:MM:SS`, sides `right` and `left`; a missing value is `null`; every number is finite. Floats are written with
as many digits as give the same number back. The version rises by one whenever a field is removed, renamed or changes
its meaning; a reader must refuse a version that it does not know. Every name, diagnosis and number in the file is
health data: keep it as you keep the paper register.
"""


def columns_markdown() -> str:
    """The page that lists every column of every sheet.

    Returns
    -------
    str
        Markdown.
    """
    parts = [COLUMNS_HEAD]
    for spec in tables().values():
        names = ", ".join(f"`{name}`" for name in spec.names)
        taken = f"A file or sheet is taken for it when its name has one of: {names}."
        parts.append(f"## {spec.table.value}\n\n{spec.purpose} {taken}\n")
        parts.append(column_table(spec.columns))
    parts.append("## Settings on the day sheet\n\nOne row each: the setting's name, then its value.\n")
    parts.append(column_table(SETTINGS))
    return "\n".join(parts)


def column_table(columns: tuple[Column, ...]) -> str:
    """A Markdown table of columns."""
    lines = ["| column | holds | limits | in words | example | also headed |", "| --- | --- | --- | --- | --- | --- |"]
    for column in columns:
        heading = f"**{column.heading}**" if column.required else column.heading
        cells = (
            heading, column.kind.value, limits_in_words(column), column.explanation, column.example,
            ", ".join(column.synonyms),
        )  # fmt: skip
        lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(lines) + "\n"


def limits_in_words(column: Column) -> str:
    """The limits with their unit; empty when there are none."""
    if not column.limits:
        return ""
    low, high = limits_of(column.limits)
    if column.kind is Kind.KERATOMETRY:
        low_mm, high_mm = radius_limits()
        return f"{low:g} to {high:g} D, or {low_mm:g} to {high_mm:g} mm"
    return f"{low:g} to {high:g} {column.unit}".strip()


def plan_format_markdown() -> str:
    """The page that describes every field of a stored plan.

    Returns
    -------
    str
        Markdown, one section a type, from the plan down.
    """
    parts = [PLAN_HEAD]
    for kind in types_below(DayPlan):
        title = f"## {kind.__name__}\n\n{inspect.cleandoc(kind.__doc__ or '')}\n"
        parts.append(title + "\n" + (enum_table(kind) if issubclass(kind, Enum) else field_table(kind)))
    return "\n".join(parts)


def types_below(top: type) -> list[type]:
    """A dataclass and every dataclass and enumeration that its fields hold, in order of first appearance."""
    found: list[type] = []

    def visit(hint: object) -> None:
        if isinstance(hint, type) and (dataclasses.is_dataclass(hint) or issubclass(hint, Enum)):
            if hint in found:
                return
            found.append(hint)
            if dataclasses.is_dataclass(hint):
                for inner in typing.get_type_hints(hint).values():
                    visit(inner)
        for argument in typing.get_args(hint):
            visit(argument)

    visit(top)
    return found


def field_table(kind: type) -> str:
    """The fields of a dataclass with their types and the words beneath them in the source."""
    words = field_words(kind)
    lines = ["| field | type | meaning |", "| --- | --- | --- |"]
    for statement in class_body(kind):
        if isinstance(statement, ast.AnnAssign):
            name = target_name(statement)
            lines.append(f"| `{name}` | {plain_type(ast.unparse(statement.annotation))} | {words.get(name, '')} |")
    return "\n".join(lines) + "\n"


def plain_type(annotation: str) -> str:
    """An annotation as a reader of JSON thinks of it."""
    plain = annotation.replace("tuple[", "list of ").replace(", ...]", "").replace(" | None", " or null")
    return plain.replace("|", "or")


def enum_table(kind: type[Enum]) -> str:
    """The values of an enumeration."""
    words = field_words(kind)
    lines = ["| value | meaning |", "| --- | --- |"]
    lines += [f"| `{member.value}` | {words.get(member.name, '')} |" for member in kind]
    return "\n".join(lines) + "\n"


def field_words(kind: type) -> dict[str, str]:
    """The string beneath each field in a class's source."""
    body = class_body(kind)
    words: dict[str, str] = {}
    for statement, below in pairwise(body):
        name = target_name(statement)
        if name and isinstance(below, ast.Expr) and isinstance(below.value, ast.Constant):
            words[name] = " ".join(str(below.value.value).split()).replace("|", "\\|").replace("``", "`")
    return words


def class_body(kind: type) -> list[ast.stmt]:
    """The statements of a class in its source."""
    parsed = ast.parse(textwrap.dedent(inspect.getsource(kind))).body[0]
    assert isinstance(parsed, ast.ClassDef)
    return parsed.body


def target_name(statement: ast.stmt) -> str:
    """The name that a field or enumeration line defines."""
    if isinstance(statement, ast.AnnAssign) and isinstance(statement.target, ast.Name):
        return statement.target.id
    if isinstance(statement, ast.Assign) and isinstance(statement.targets[0], ast.Name):
        return statement.targets[0].id
    return ""


def write_reference(docs: Path) -> None:
    """Writes both pages anew.

    Parameters
    ----------
    docs : Path
        The documentation folder.
    """
    (docs / "reference").mkdir(exist_ok=True)
    (docs / "reference" / "columns.md").write_text(columns_markdown(), encoding="utf-8")
    (docs / "plan-format.md").write_text(plan_format_markdown(), encoding="utf-8")
