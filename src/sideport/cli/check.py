"""``sideport check``: every published value beside what the program computes."""

import json
from dataclasses import asdict

import typer
from rich.console import Console
from rich.table import Table

from ..checks import CheckResult, run_checks

__all__ = ["show_checks"]


def show_checks(*, as_json: bool) -> int:
    """Prints the table or JSON; returns the exit code, 1 when a value disagrees."""
    results = run_checks()
    failed = sum(not result.agrees for result in results)
    if as_json:
        typer.echo(json.dumps([row(result) for result in results], ensure_ascii=False, indent=1))
        return int(failed > 0)
    table = Table(title="Published values and what Sideport computes", show_lines=False)
    for heading in ("Quantity", "Source", "Basis", "Expected", "Computed", "Difference", ""):
        table.add_column(heading, justify="right" if heading in {"Expected", "Computed", "Difference"} else "left")
    for result in results:
        check = result.check
        table.add_row(
            check.quantity,
            f"{check.source}, {check.locator}",
            check.basis.value if check.basis.value != "recalled" else "recalled: from memory, not yet read in print",
            check.printed,
            f"{result.computed:.6g}",
            f"{result.difference:+.2g}",
            "agrees" if result.agrees else "DISAGREES",
        )
    Console().print(table)
    typer.echo(f"{len(results) - failed} of {len(results)} values agree.")
    return int(failed > 0)


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
    }
