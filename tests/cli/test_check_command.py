"""``sideport check`` in a wide and in a narrow terminal."""

import json

import pytest
from typer.testing import CliRunner

from sideport.checks import Check, CheckResult
from sideport.cli import app
from sideport.cli import check as command
from sideport.knowledge import Basis

WIDER = Check("length of a thing", "sideport.x:y", {}, "1.50", "narendran2009", "table 1", Basis.RECALLED,
              tolerance=0.3, why="The inputs are rounded.")  # fmt: skip
RESULTS = (
    CheckResult(WIDER, 1.25),
    CheckResult(Check("power [D]", "sideport.x:y", {}, "-2.0", "narendran2009", "table 2", Basis.PUBLISHED), -2.1),
)


@pytest.fixture(autouse=True)
def two_results(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(command, "run_checks", lambda: RESULTS)


def run(columns: int, *options: str) -> tuple[int, str]:
    result = CliRunner().invoke(app, ["check", *options], env={"COLUMNS": str(columns)})
    return result.exit_code, result.stdout


def test_a_wider_allowance_says_how_wide_and_why() -> None:
    code, out = run(200)
    assert code == 1
    assert "agrees within 0.3" in out
    assert "length of a thing (narendran2009): up to 0.3, since the inputs are rounded." in out
    assert "DISAGREES" in out


def test_a_narrow_terminal_gets_two_whole_lines_a_value() -> None:
    """Nothing is cut, brackets are not taken for markup, and a minus is no hyphen."""
    _, out = run(60)
    lines = out.splitlines()
    assert lines[0].startswith("length of a thing (narendran2009, table 1; recalled: from memory")
    assert lines[2] == "power [D] (narendran2009, table 2; published)"
    assert lines[3] == "    expected \u22122.0, computed \u22122.1, difference \u22120.1: DISAGREES"
    assert "power [D]" in run(200)[1]


def test_the_json_holds_the_allowance() -> None:
    rows = json.loads(run(80, "--json")[1])
    assert rows[0]["tolerance"] == 0.3
    assert rows[0]["why"] == "The inputs are rounded."
