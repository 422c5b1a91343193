"""``sideport wound`` as a person or a script calls it."""

import json

import pytest
from typer.testing import CliRunner

from sideport.cli import app

CUT = ["wound", "--k1", "43.0", "--axis", "180", "--length", "6.0"]


def run(*options: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, [*CUT, *options])
    return result.exit_code, result.stdout, result.stderr


def answer(*options: str) -> dict:
    code, out, _ = run(*options, "--json")
    assert code == 0
    return json.loads(out)


def test_the_cylinders_add_up_by_hand() -> None:
    """1.50 D at 90 with a superior cut on the same meridian leaves the difference."""
    found = answer("--k2", "44.5", "--site", "superior", "--side", "right")
    assert found["before"]["steep_axis_deg"] == pytest.approx(90)
    assert found["induced"]["steepens_deg"] == pytest.approx(0, abs=1e-6)
    left = 1.5 - found["induced"]["magnitude_d"]
    assert found["after"]["magnitude_d"] == pytest.approx(left)
    assert list(found["after"]["within"]) == ["0.5", "1", "1.5"]


def test_one_power_tells_no_cylinder() -> None:
    """Without the second power nothing is said about the cornea before or after."""
    found = answer("--site", "temporal")
    assert found["before"] is None
    assert found["after"] is None
    assert found["meridian_deg"] is None
    assert found["cut_axis_deg"] == 0.0


def test_right_and_left_are_mirrored_and_never_guessed() -> None:
    """An oblique cut asks for the side, and the sides differ in the sign of J45 alone."""
    code, out, err = run("--site", "superotemporal")
    assert (code, out) == (2, "")
    assert "--side" in err
    right, left = (answer("--site", "superotemporal", "--side", side)["induced"] for side in ("right", "left"))
    assert right["j45_d"] == pytest.approx(-left["j45_d"])
    assert right["j45_d"] > 0
    assert right["j0_d"] == pytest.approx(left["j0_d"], abs=1e-12)


def test_the_cube_is_there_to_compare_and_says_its_name() -> None:
    """At twice the series' length the cube makes four times as much of it as the default."""
    plain = answer("--site", "superior", "--length", "7.5")
    cube = answer("--site", "superior", "--length", "7.5", "--length-model", "cube")
    assert cube["length_model"] == "cube"
    assert cube["induced"]["magnitude_d"] / plain["induced"]["magnitude_d"] == pytest.approx((7.5 / 6.0) ** 2)


def test_phaco_has_no_passage_and_words_carry_the_caution() -> None:
    """A nucleus is not delivered whole through a phaco cut; the plain answer ends with the caution."""
    assert answer("--site", "temporal", "--technique", "phaco", "--length", "2.8")["passage"] is None
    _, out, _ = run("--site", "superior", "--k2", "44.0")
    assert "second person" in out


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--site", "inferior"], "superior, superotemporal"),
        (["--site", "superior", "--shape", "zigzag"], "straight, frown"),
        (["--site", "superior", "--technique", "laser"], "msics"),
        (["--site", "superior", "--length-model", "square"], "near-linear"),
        (["--site", "superior", "--length", "-1"], "above 0"),
        (["--site", "superior", "--distance", "-1"], "negative"),
        (["--site", "superior", "--k1", "0"], "30 to 60 D"),
        (["--site", "superior", "--k1", "7.7"], "radius in millimetres"),
        (["--site", "superior", "--axis", "270"], "0 to 180 deg"),
        (["--site", "superior", "--axis", "nan"], "--axis"),
        (["--site", "superior", "--length", "nan"], "--length"),
    ],
)
def test_a_question_that_cannot_be_answered_says_what_to_do(options: list[str], says: str) -> None:
    code, out, err = run(*options)
    assert (code, out) == (2, "")
    assert says in err
