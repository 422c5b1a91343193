"""``sideport lens`` as a person or a script calls it."""

import json

import pytest
from typer.testing import CliRunner

from sideport.cli import app

EYE = ["lens", "--al", "23.5", "--k1", "43.5", "--k2", "44.0"]


def run(*options: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, [*EYE, *options])
    return result.exit_code, result.stdout, result.stderr


@pytest.mark.parametrize(
    "options", [["--formula", "srk-t", "--constant", "118.4"], ["--formula", "hoffer-q", "--constant", "5.2"]]
)
def test_power_and_refraction_are_each_others_inverse(options: list[str]) -> None:
    code, out, _ = run(*options, "--target", "-0.5", "--json")
    answer = json.loads(out)
    assert code == 0
    assert list(answer) == ["formula", "constant", "lens_position_mm", "power_d", "refraction_d"]
    _, back, _ = run(*options, "--power", repr(answer["power_d"]), "--json")
    assert json.loads(back)["refraction_d"] == pytest.approx(-0.5, abs=1e-9)


def test_haigis_takes_its_three_constants() -> None:
    code, out, _ = run("--acd", "3.1", "--formula", "haigis", "--a0", "1.0", "--a1", "0.3", "--target", "0", "--json")
    assert code == 0
    assert json.loads(out)["constant"] == {"a0": 1.0, "a1": 0.3, "a2": 0.1}


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--formula", "srk-t", "--target", "0"], "needs --constant"),
        (["--formula", "srk-t", "--constant", "118.4"], "either --target"),
        (["--formula", "srk-t", "--constant", "118.4", "--target", "0", "--power", "21"], "not both"),
        (["--formula", "haigis", "--a0", "1.0", "--target", "0"], "--acd"),
        (["--formula", "haigis", "--constant", "118.4", "--target", "0"], "not --constant"),
        (["--formula", "t2", "--constant", "118.4", "--a0", "1", "--target", "0"], "belong to Haigis"),
        (["--formula", "guess", "--constant", "118.4", "--target", "0"], "srk-t"),
    ],
)
def test_a_question_that_cannot_be_answered_says_what_to_do(options: list[str], says: str) -> None:
    code, out, err = run(*options)
    assert code == 2
    assert out == ""
    assert says in err
