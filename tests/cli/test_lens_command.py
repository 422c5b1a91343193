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


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--al", "2.35"], "--al 2.35 looks like centimetres; in millimetres that is 23.5"),
        (["--al", "2350"], "missing decimal point"),
        (["--al", "nan"], "--al must be a number"),
        (
            ["--k1", "7.7", "--k2", "7.8"],
            "--k1 7.7 looks like a radius in millimetres. Give the power in dioptres: 43.83",
        ),
        (["--k2", "435"], "--k2 435 looks like a missing decimal point. Accepted: 30 to 60 D"),
        (["--acd", "31"], "--acd 31 looks like a missing decimal point"),
        (["--formula", "hoffer-q"], "looks like an A-constant; Hoffer Q takes pACD, 2 to 8"),
        (["--constant", "5.2"], "looks like the constant pACD of another formula; SRK/T takes A, 105 to 125"),
        (["--target", "inf"], "--target must be a number"),
    ],
)
def test_a_slip_of_unit_decimal_point_or_constant_is_never_answered(options: list[str], says: str) -> None:
    """The limits are those of ``plausible.toml``, which the importer uses."""
    code, out, err = run("--formula", "srk-t", "--constant", "118.4", "--target", "0", *options)
    assert (code, out) == (2, "")
    assert says in err


def test_an_eye_outside_the_studied_range_is_answered_with_a_note_on_standard_error() -> None:
    """The JSON keeps its five keys; a usual eye has no note."""
    options = ["--formula", "holladay-1", "--constant", "1.5", "--target", "-0.5", "--json"]
    code, out, err = run("--al", "28", *options)
    assert code == 0
    assert len(json.loads(out)) == 5
    assert "advised for 22 to 26 mm" in err
    assert run(*options)[2] == ""


def test_a_printed_minus_is_no_hyphen() -> None:
    """U+2212 before the refraction, and a sign before every power."""
    _, out, _ = run("--formula", "srk-t", "--constant", "118.4", "--target", "-0.5")
    assert "leaves \u22120.50\u00a0D" in out
    assert "a lens of +" in out
