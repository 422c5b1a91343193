"""``sideport check``: every published value beside what the program computes."""

import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict

import typer
from rich.console import Console
from rich.markup import escape
from rich.table import Table

from ..checks import CheckResult, run_checks
from ..knowledge import Basis
from ..present.numbers import MINUS

__all__ = ["show_checks"]

WIDE = 100
"""Columns of a terminal from which the table is printed."""


def show_checks(*, as_json: bool) -> int:
    """Prints the table or JSON; returns the exit code, 1 when a value disagrees."""
    results = run_checks()
    failed = sum(not result.agrees for result in results)
    if as_json:
        typer.echo(json.dumps([row(result) for result in results], ensure_ascii=False, indent=1))
        return int(failed > 0)
    console = Console()
    if console.width < WIDE:
        for line in narrow_lines(results):
            console.print(line, markup=False, highlight=False, soft_wrap=True)
    else:
        console.print(wide_table(results))
    for line in wider_lines(results):
        console.print(line, markup=False, highlight=False, soft_wrap=True)
    typer.echo(f"{len(results) - failed} of {len(results)} values agree.")
    return int(failed > 0)


def basis_words(result: CheckResult) -> str:
    """How far the printed value may be trusted."""
    basis = result.check.basis
    return "recalled: from memory, not yet read in print" if basis is Basis.RECALLED else basis.value


def verdict(result: CheckResult) -> str:
    """Whether the value agrees; a wider allowance shows its size."""
    wider = f" within {result.check.allowed:g}" if result.check.tolerance is not None else ""
    return f"agrees{wider}" if result.agrees else f"DISAGREES{wider}"


def figures(result: CheckResult) -> tuple[str, str, str]:
    """Expected, computed and their difference, with a minus that is no hyphen."""
    told = (result.check.printed, f"{result.computed:.6g}", f"{result.difference:+.2g}")
    expected, computed, difference = (text.replace("-", MINUS) for text in told)
    return expected, computed, difference


def wide_table(results: Iterable[CheckResult]) -> Table:
    """A row a value."""
    table = Table(title="Published values and what Sideport computes", show_lines=False)
    for heading in ("Quantity", "Source", "Basis", "Expected", "Computed", "Difference", ""):
        table.add_column(heading, justify="right" if heading in {"Expected", "Computed", "Difference"} else "left")
    for result in results:
        check = result.check
        source = f"{check.source}, {check.locator}"
        told = (check.quantity, source, basis_words(result), *figures(result), verdict(result))
        table.add_row(*(escape(text) for text in told))
    return table


def narrow_lines(results: Iterable[CheckResult]) -> Iterator[str]:
    """Two lines a value, nothing cut, for a terminal that has no room for the table."""
    for result in results:
        check = result.check
        expected, computed, difference = figures(result)
        yield f"{check.quantity} ({check.source}, {check.locator}; {basis_words(result)})"
        yield f"    expected {expected}, computed {computed}, difference {difference}: {verdict(result)}"


def wider_lines(results: Iterable[CheckResult]) -> Iterator[str]:
    """Why some values may differ by more than half their last printed digit."""
    groups: dict[tuple[str, float, str], list[str]] = {}
    for check in (result.check for result in results if result.check.tolerance is not None):
        groups.setdefault((check.source, check.allowed, check.why), []).append(check.quantity)
    if groups:
        yield "Allowed to differ by more than half the last printed digit:"
    for (source, allowed, why), quantities in groups.items():
        named = quantities[0] if len(quantities) == 1 else f"{quantities[0]} and {len(quantities) - 1} more"
        yield f"  {named} ({source}): up to {allowed:g}, since {why[:1].lower()}{why[1:].rstrip('.')}."


def row(result: CheckResult) -> dict[str, object]:
    """One result as JSON."""
    check = asdict(result.check)
    return {
        "quantity": check["quantity"],
        "source": check["source"],
        "locator": check["locator"],
        "basis": result.check.basis.value,
        "expected": check["printed"],
        "computed": result.computed,
        "difference": result.difference,
        "agrees": result.agrees,
        "tolerance": result.check.allowed,
        "why": result.check.why,
    }
